"""Printed tracks joined into one continuous file, sample for sample, with a marker at each. Runs in workers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

import numpy as np

from sweeper import meter
from sweeper.album.edges import ranges
from sweeper.album.orders import Piece, Proof, ProofOrder
from sweeper.audio import BroadcastTag, SoundFile, WavWriter, Word, blocks, file_hash, inspect
from sweeper.audio.cue_points import cue_chunks
from sweeper.audio.labels import wav_chunks
from sweeper.audio.sample_hash import sample_hash
from sweeper.audio.wav import packed
from sweeper.delivery.dither import Dither, Quantiser
from sweeper.errors import AudioFileError
from sweeper.quantities import Measurements
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.workers import Report

SILENCE_FRAMES = 65536


def join_tracks(order: ProofOrder, report: Report) -> Proof:
    """Write the proof, read it back and measure what is in it.

    Raises AudioFileError where a track is no longer what was printed, RunFolderError; then there is no file.
    """
    files = [inspect(piece.file) for piece in order.pieces]
    format, starts = files[0].format, _starts(order.pieces, files)
    edges = ranges(order.pieces, starts, format.rate_hz)
    marks = cue_chunks([(start, piece.name) for start, piece in zip(starts, order.pieces, strict=True)])
    digest, panel = hashlib.sha256(), meter.start(format)
    exact = Quantiser(order.word, Dither.NONE, format.channels)
    whole = sum(file.frames + piece.gap for file, piece in zip(files, order.pieces, strict=True))
    report.phase(f"writing {order.target.name}", FILE_PATIENCE_S)
    with WavWriter(order.target, format.channels, format.rate_hz, word=order.word, digest=digest) as wav:
        for block in _joined(order.pieces, files):
            wav.write(block if order.word is Word.FLOAT_32 else exact.words(block))
            panel = meter.advance(panel, block)
            report.beat("", min(1.0, wav.frames / whole))
        wav.commit(_tag(order, meter.finish(panel)), wav_chunks(order.labels) + marks)
    return _read_back(order, starts, edges, digest.hexdigest(), report)


def _starts(pieces: tuple[Piece, ...], files: list[SoundFile]) -> tuple[int, ...]:
    lengths = [file.frames + piece.gap for file, piece in zip(files, pieces, strict=True)]
    return tuple(sum(lengths[:n]) for n in range(len(lengths)))


def _joined(pieces: tuple[Piece, ...], files: list[SoundFile]) -> Iterator[np.ndarray]:
    for piece, file in zip(pieces, files, strict=True):
        digest = hashlib.sha256()
        for block in blocks(file, FILE_BLOCK_FRAMES):
            digest.update(packed(block, Word.FLOAT_32))
            yield block
        if digest.hexdigest() != piece.audio_sha256:
            raise AudioFileError(f"{piece.file} does not hold what was printed", "check the disk, and print again")
        for at in range(0, piece.gap, SILENCE_FRAMES):
            yield np.zeros((file.format.channels, min(SILENCE_FRAMES, piece.gap - at)), np.float32)


def _tag(order: ProofOrder, measured: Measurements) -> BroadcastTag:
    return BroadcastTag("", order.date, order.time, measured["loudness_lufs"], measured["loudness_range_lu"],
                        measured["true_peak_dbtp"], measured["momentary_max_lufs"],
                        measured["short_term_max_lufs"])  # fmt: skip


def _read_back(order: ProofOrder, starts: tuple[int, ...], edges: dict[str, tuple[tuple[int, int], ...]],
               written_sha256: str, report: Report) -> Proof:  # fmt: skip
    """The file as it is found."""
    report.phase(f"measuring {order.target.name}", FILE_PATIENCE_S)
    file = inspect(order.target)
    measured = meter.finish(metered(file, edges, report))
    found = Proof(order.target, file_hash(order.target), sample_hash(file), file.frames, file.format.rate_hz, starts,
                  measured)  # fmt: skip
    if found.audio_sha256 != written_sha256:
        raise AudioFileError(f"{order.target} does not hold what was written to it", "check the disk, and print again")
    return found
