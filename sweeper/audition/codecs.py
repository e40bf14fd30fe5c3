"""Lossy encoding and decoding by libsndfile, aligned to the sample. Runs in workers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from sweeper.audio import BroadcastTag, WavWriter, inspect
from sweeper.audition.playable import converted, resampled
from sweeper.errors import AudioFileError
from sweeper.meter.grid import Samples
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.workers import Report

BLOCK_FRAMES = 65536
#: A codec is timed on so much noise, with as much room on either side as any delays: encoder and decoder together
#: come to some 2,500 frames of MP3 at most, from memory.
PROBE_FRAMES, ROOM_FRAMES = 65536, 8192
#: What the noise must come back as, or it cannot be timed.
LEAST_LIKENESS = 0.5
#: Moving means of so many frames, one after the other, leave the noise some 3 kHz.
SMOOTHED = (12, 9, 7)


@dataclass(frozen=True)
class Codec:
    """A lossy format. level: libsndfile's, 0 best to 1 smallest. rates_hz: those that it takes here.

    About 128 kbps in stereo: what listeners get at usual settings, common practice, no source.
    """

    key: str
    name: str
    container: str
    encoding: str
    level: float
    rates_hz: tuple[int, ...]

    def rate_for(self, rate_hz: int) -> int:
        """The rate that a file of `rate_hz` is coded at: its own where that is taken, else one that it is a multiple
        of, or that is a multiple of it, else the next above, or the highest."""
        below = [one for one in self.rates_hz if rate_hz % one == 0]
        above = [one for one in self.rates_hz if one % rate_hz == 0] or [one for one in self.rates_hz if one > rate_hz]
        return max(below) if below else min(above, default=max(self.rates_hz))


#: Of the rates that the formats have, those that music is played at. Opus has 48 kHz alone among them.
MUSIC_RATES_HZ, OPUS_RATES_HZ = (48000, 44100, 32000), (48000,)
CODECS = (
    Codec("mp3", "MP3", "MP3", "MPEG_LAYER_III", 0.66, MUSIC_RATES_HZ),
    Codec("vorbis", "Vorbis", "OGG", "VORBIS", 0.68, MUSIC_RATES_HZ),
    Codec("opus", "Opus", "OGG", "OPUS", 0.78, OPUS_RATES_HZ),
)
BY_KEY = {codec.key: codec for codec in CODECS}


@dataclass(frozen=True)
class CodeOrder:
    """Encode `source`, decode it, and write what comes back to `target`, 32-bit float, as long as it was."""

    source: Path
    target: Path
    codec: str


@dataclass(frozen=True)
class Coded:
    """What came of it. coded_rate_hz: the rate that it was coded at; delay_frames: what was taken out, at that rate."""

    bitrate_kbps: float
    coded_rate_hz: int
    delay_frames: int


def code(order: CodeOrder, report: Report) -> Coded:
    """Encode and decode. Raises AudioFileError when the codec refuses, or cannot be timed."""
    import soundfile

    codec, file = BY_KEY[order.codec], inspect(order.source)
    rate_hz, channels = codec.rate_for(file.format.rate_hz), file.format.channels
    report.phase(f"coding {order.source.name} as {codec.name}", FILE_PATIENCE_S)
    delay = delay_frames(codec, rate_hz, channels)
    try:
        with TemporaryDirectory(prefix=".coding-", dir=order.target.parent) as place:
            coded = Path(place) / f"coded.{codec.container.lower()}"
            with _writing(coded, codec, rate_hz, channels) as out:
                for block in converted(file, rate_hz):
                    out.write(block.T)
                    report.beat()
            bitrate_kbps = coded.stat().st_size * 8 / file.duration_s / 1000
            back = resampled(shifted(_decoded(coded), delay, channels), rate_hz, file.format.rate_hz, channels)
            with WavWriter(order.target, channels, file.format.rate_hz, lasting=False) as writer:
                for block in of_length(back, file.frames, channels):
                    writer.write(block)
                    report.beat()
                writer.commit(BroadcastTag("", "", ""))
    except soundfile.LibsndfileError as exc:
        raise AudioFileError(f"{order.source} cannot be coded as {codec.name}: {exc.error_string}",
                             "leave the preview out, or install a libsndfile with that codec") from exc  # fmt: skip
    return Coded(round(bitrate_kbps, 1), rate_hz, delay)


@cache
def delay_frames(codec: Codec, rate_hz: int, channels: int) -> int:
    """How much later what was coded comes back, in frames; found on noise, so that no music can mislead it.

    libsndfile takes most of it off by itself; what version does is not to be relied on. Raises AudioFileError where
    the noise is not to be found again, and soundfile.LibsndfileError where the codec refuses.
    """
    from sweeper.meter.alignment import whole_lag

    noise = np.random.default_rng(7).standard_normal((channels, PROBE_FRAMES))
    for width in SMOOTHED:  # codecs leave high frequencies out: what is low comes back like itself
        noise = np.apply_along_axis(np.convolve, 1, noise, np.full(width, 1 / width), "same")
    noise = (0.1 * noise / noise.std()).astype(np.float32)
    with TemporaryDirectory(prefix="sweeper-codec-") as place:
        coded = Path(place) / f"probe.{codec.container.lower()}"
        with _writing(coded, codec, rate_hz, channels) as out:
            out.write(noise.T)
        back = np.concatenate(list(_decoded(coded)), axis=1)
    padded = np.pad(back, ((0, 0), (ROOM_FRAMES, ROOM_FRAMES)))
    inner = noise[:, ROOM_FRAMES : PROBE_FRAMES - ROOM_FRAMES]
    lag, likeness = whole_lag(inner, padded, 2 * ROOM_FRAMES)
    if likeness < LEAST_LIKENESS:
        raise AudioFileError(f"{codec.name} at {rate_hz} Hz gives back something else than it was given",
                             "leave the preview out: this machine's encoder cannot be used")  # fmt: skip
    return lag - 2 * ROOM_FRAMES


def shifted(blocks: Iterator[Samples], delay: int, channels: int) -> Iterator[Samples]:
    """The blocks with `delay` frames taken off their beginning; a negative delay puts silence there."""
    if delay < 0:
        yield np.zeros((channels, -delay), np.float32)
    left = max(0, delay)
    for block in blocks:
        cut = min(left, block.shape[1])
        left -= cut
        if cut < block.shape[1]:
            yield block[:, cut:]


def of_length(blocks: Iterator[Samples], frames: int, channels: int) -> Iterator[Samples]:
    """The blocks cut, or filled with silence, to so many frames."""
    left = frames
    for block in blocks:
        if left <= 0:
            break
        yield block[:, :left]
        left -= min(left, block.shape[1])
    if left > 0:
        yield np.zeros((channels, left), np.float32)


def _writing(path: Path, codec: Codec, rate_hz: int, channels: int) -> Any:
    import soundfile

    more = {"bitrate_mode": "CONSTANT"} if codec.container == "MP3" else {}
    return soundfile.SoundFile(path, "w", rate_hz, channels, codec.encoding, format=codec.container,
                               compression_level=codec.level, **more)  # fmt: skip


def _decoded(path: Path) -> Iterator[Samples]:
    """What the decoder gives, past full scale where it goes there, (channels, frames) each."""
    import soundfile

    with soundfile.SoundFile(path) as opened:
        while len(block := opened.read(BLOCK_FRAMES, dtype="float32", always_2d=True)):
            yield np.ascontiguousarray(block.T)
