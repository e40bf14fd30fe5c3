"""What a lossy coder makes of a sound, aligned to the sample; coded and decoded as prints are. Runs in workers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from sweeper.audio import BroadcastTag, WavWriter, blocks, inspect
from sweeper.audio.converting import converted, converted_frames
from sweeper.audio.encoded import EncodedWriter, Encoding
from sweeper.audio.labels import Labels
from sweeper.audition.playable import at_rate, singles
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
    """A lossy format. mono, stereo: how it is coded. rates_hz: those that it takes here.

    About 128 kbps in stereo: what listeners get at usual settings, common practice, no source.
    """

    key: str
    name: str
    mono: Encoding
    stereo: Encoding
    rates_hz: tuple[int, ...]

    def encoding(self, channels: int) -> Encoding:
        """How one or two channels are coded."""
        return self.mono if channels == 1 else self.stereo

    def rate_for(self, rate_hz: int) -> int:
        """The rate that a file of `rate_hz` is coded at: its own where that is taken, else one that it is a multiple
        of, or that is a multiple of it, else the next above, or the highest."""
        below = [one for one in self.rates_hz if rate_hz % one == 0]
        above = [one for one in self.rates_hz if one % rate_hz == 0] or [one for one in self.rates_hz if one > rate_hz]
        return max(below) if below else min(above, default=max(self.rates_hz))


#: Of the rates that the formats have, those that music is played at. Opus has 48 kHz alone among them.
MUSIC_RATES_HZ, OPUS_RATES_HZ = (48000, 44100, 32000), (48000,)
CODECS = (
    Codec("mp3", "MP3", Encoding("MP3", kbps=128), Encoding("MP3", kbps=128), MUSIC_RATES_HZ),
    Codec("vorbis", "Vorbis", Encoding("VORBIS", quality=3.2), Encoding("VORBIS", quality=3.2), MUSIC_RATES_HZ),
    Codec("opus", "Opus", Encoding("OPUS", kbps=64), Encoding("OPUS", kbps=128), OPUS_RATES_HZ),
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
    """Encode and decode. Raises RunFolderError when codec or disk refuse, AudioFileError when it cannot be timed."""
    codec, file = BY_KEY[order.codec], inspect(order.source)
    rate_hz, channels = codec.rate_for(file.format.rate_hz), file.format.channels
    report.phase(f"coding {order.source.name} as {codec.name}", FILE_PATIENCE_S)
    delay = delay_frames(codec, rate_hz, channels)
    frames = converted_frames(file.frames, file.format.rate_hz, rate_hz)
    with TemporaryDirectory(prefix=".coding-", dir=order.target.parent) as place:
        coded = _encoded(Path(place), codec, rate_hz, channels, _told(at_rate(file, rate_hz), report))
        bitrate_kbps = coded.stat().st_size * 8 / file.duration_s / 1000
        back = of_length(shifted(_decoded(coded), delay, channels), frames, channels)
        if rate_hz != file.format.rate_hz:
            back = singles(converted(back, channels, rate_hz, file.format.rate_hz, frames))
        with WavWriter(order.target, channels, file.format.rate_hz, lasting=False) as writer:
            for block in _told(of_length(back, file.frames, channels), report):
                writer.write(block)
            writer.commit(BroadcastTag("", "", ""))
    return Coded(round(bitrate_kbps, 1), rate_hz, delay)


@cache
def delay_frames(codec: Codec, rate_hz: int, channels: int) -> int:
    """How much later what was coded comes back, in frames; found on noise, so that no music can mislead it.

    libsndfile takes most of it off by itself; what version does is not to be relied on. Raises AudioFileError where
    the noise is not to be found again, and RunFolderError where the codec refuses.
    """
    from sweeper.meter.alignment import whole_lag

    noise = np.random.default_rng(7).standard_normal((channels, PROBE_FRAMES))
    for width in SMOOTHED:  # codecs leave high frequencies out: what is low comes back like itself
        noise = np.apply_along_axis(np.convolve, 1, noise, np.full(width, 1 / width), "same")
    noise = (0.1 * noise / noise.std()).astype(np.float32)
    with TemporaryDirectory(prefix="sweeper-codec-") as place:
        coded = _encoded(Path(place), codec, rate_hz, channels, [noise])
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


def _told(stream: Iterator[Samples], report: Report) -> Iterator[Samples]:
    for block in stream:
        yield block
        report.beat()


def _encoded(place: Path, codec: Codec, rate_hz: int, channels: int, stream: Iterable[Samples]) -> Path:
    """The stream, coded, in that folder."""
    path = place / f"coded.{codec.key}"
    with EncodedWriter(path, channels, rate_hz, codec.encoding(channels)) as out:
        for block in stream:
            out.write(block)
        out.commit(Labels(""))
    return path


def _decoded(path: Path) -> Iterator[Samples]:
    """What the decoder gives, past full scale where it goes there, (channels, frames) each."""
    return blocks(inspect(path), BLOCK_FRAMES)
