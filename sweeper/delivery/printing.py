"""One print: written, read back, measured. Runs in workers."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper import meter
from sweeper.audio import AudioFormat, BroadcastTag, SoundFile, WavWriter, Word, blocks, file_hash, inspect
from sweeper.audio.encoded import EncodedWriter, Encoding
from sweeper.audio.labels import wav_chunks
from sweeper.audio.sample_hash import sample_hash
from sweeper.audio.wav import packed
from sweeper.delivery import loudest
from sweeper.delivery.dither import Dither, Quantiser
from sweeper.delivery.orders import Coded, Printed, PrintOrder
from sweeper.delivery.proof import found_again
from sweeper.delivery.signal_path import before_words, cut_for, rate_of
from sweeper.errors import AudioFileError
from sweeper.meter import true_peak
from sweeper.quantities import Measurements
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.workers import Report

Doubles = NDArray[np.float64]


def print_file(order: PrintOrder, report: Report) -> Printed:
    """Write the file of the order, then read it back and measure what is in it.

    Raises AudioFileError, PrintError, RunFolderError; then there is no file.
    """
    report.phase(f"writing {order.target.name}", FILE_PATIENCE_S)
    render = inspect(order.render)
    cut = cut_for(order.spec, order.edits, render)
    source = _told(blocks(render, FILE_BLOCK_FRAMES), render, report)
    stream = before_words(source, order.spec, render, cut, order.level_db + order.gain_db)
    if order.spec.lossy:
        return _coded(order, stream, AudioFormat(render.format.channels, rate_of(order.spec, render)), report)
    return _lossless(order, stream, AudioFormat(render.format.channels, rate_of(order.spec, render)), report)


def _told(source: Iterator[NDArray[np.float32]], render: SoundFile, report: Report) -> Iterator[NDArray[np.float32]]:
    done = 0
    for block in source:
        yield block
        done += block.shape[1]
        report.beat("", min(1.0, done / render.frames))


def _lossless(order: PrintOrder, stream: Iterator[Doubles], format: AudioFormat, report: Report) -> Printed:
    word = order.spec.word or Word.FLOAT_32
    digest, quantiser = hashlib.sha256(), Quantiser(word, Dither(order.spec.dither), format.channels, order.seed)
    panel = meter.start(format)

    def written(write: Callable[[NDArray[Any]], None]) -> None:
        nonlocal panel
        for block in stream:
            if word is Word.FLOAT_32:
                samples = block.astype(np.float32)
                write(samples)
            else:
                words = quantiser.words(block)
                write(words)
                samples = word.floats(words)
            digest.update(packed(samples, Word.FLOAT_32))
            panel = meter.advance(panel, samples)

    if order.spec.format == "WAV":
        with WavWriter(order.target, format.channels, format.rate_hz, word=word) as wav:
            written(wav.write)
            wav.commit(_tag(order, meter.finish(panel)), wav_chunks(order.labels))
    else:
        with EncodedWriter(order.target, format.channels, format.rate_hz, Encoding(order.spec.format, word)) as file:
            written(file.write)
            file.commit(order.labels)
    found = _read_back(order, quantiser.clipped, None, report)
    if found.audio_sha256 != digest.hexdigest():
        raise AudioFileError(f"{order.target} does not hold what was written to it", "check the disk, and print again")
    return found


def _tag(order: PrintOrder, measured: Measurements) -> BroadcastTag:
    return BroadcastTag(
        order.labels.reference,
        order.date,
        order.time,
        measured["loudness_lufs"],
        measured["loudness_range_lu"],
        measured["true_peak_dbtp"],
        measured["momentary_max_lufs"],
        measured["short_term_max_lufs"],
    )


def _coded(order: PrintOrder, stream: Iterator[Doubles], format: AudioFormat, report: Report) -> Printed:
    spec = order.spec
    encoding = Encoding(spec.format.upper(), kbps=spec.kbps or 0.0, quality=spec.quality or 0.0)
    peak, stretch = true_peak.start(format), loudest.start(format.channels, format.rate_hz)
    with EncodedWriter(order.target, format.channels, format.rate_hz, encoding) as file:
        for block in stream:
            file.write(block.astype(np.float32))
            peak, stretch = true_peak.advance(peak, block), loudest.advance(stretch, block)
        fed_frames = file.frames
        file.commit(order.labels)
    decoded = inspect(order.target)
    delay_frames, left_db = found_again(decoded, loudest.finish(stretch))
    kbps = order.target.stat().st_size * 8 / decoded.duration_s / 1000
    coded = Coded(delay_frames, left_db, kbps, true_peak.finish(peak)["true_peak_dbtp"].value, fed_frames)
    return _read_back(order, 0, coded, report)


def _read_back(order: PrintOrder, clipped: int, coded: Coded | None, report: Report) -> Printed:
    """The file as it is found."""
    report.phase(f"measuring {order.target.name}", FILE_PATIENCE_S)
    file = inspect(order.target)
    measured = meter.finish(metered(file, {}, report))
    audio_sha256 = sample_hash(file)
    return Printed(
        order.target,
        file_hash(order.target),
        audio_sha256,
        order.target.stat().st_size,
        file.frames,
        file.format,
        f"{file.container} {file.encoding}",
        measured,
        clipped,
        audio_sha256 == order.audio_sha256,
        coded,
    )
