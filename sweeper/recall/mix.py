"""The mix that a master was made from, known by its sound."""

from __future__ import annotations

from pathlib import Path

from sweeper.errors import AudioFileError
from sweeper.records import Source
from sweeper.records.archived import contents_of
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.render.sources import measured
from sweeper.units import clock
from sweeper.workers import Pool

REMEDY = "name the file with that music with --mix; its name and its wrapping (WAV, FLAC) do not matter"


def place_of(source: Source, run: Path) -> Path:
    """Where the mix of a sheet lies: in the folder of its run where that is an archive, else where it was."""
    contents = contents_of(run)
    inside = contents.mix(source.audio_sha256) if contents else None
    return run / inside.inside if inside and (run / inside.inside).is_file() else Path(source.file)


def same_music(source: Source, run: Path, elsewhere: Path | None, pool: Pool) -> Measured:
    """The mix where `place_of` finds it, or `elsewhere`. Raises AudioFileError when it is not there or not the same."""
    path = elsewhere or place_of(source, run)
    if elsewhere is None and not path.is_file():
        raise AudioFileError(f"the mix is not at {path} any more", REMEDY)
    (mix,) = measured([MeasureOrder(path, {})], pool)
    file = mix.file
    if mix.audio_sha256 != source.audio_sha256:
        then = _told(source.frames, source.rate_hz, source.channels)
        now = _told(file.frames, file.format.rate_hz, file.format.channels)
        told = f"{then} then, {now} now" if then != now else f"{then} both, the samples differ"
        raise AudioFileError(f"{path} is not the music that the master was made from: {told}", REMEDY)
    return mix


def _told(frames: int, rate_hz: int, channels: int) -> str:
    kind = {1: "mono", 2: "stereo"}.get(channels, f"{channels} channels")
    return f"{clock(frames / rate_hz)} ({frames} frames), {rate_hz} Hz, {kind}"
