"""Two sound files held against each other: aligned, level-matched, measured, one taken from the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from sweeper import meter
from sweeper.audio import SoundFile, blocks, inspect
from sweeper.audio.null import Null, null_of, null_test
from sweeper.errors import AudioFileError
from sweeper.meter import image, thirds
from sweeper.meter.alignment import Alignment
from sweeper.meter.fraction import REACH
from sweeper.meter.grid import Doubles
from sweeper.meter.k_weighting import LOWEST_RATE_HZ
from sweeper.quantities import Measurements
from sweeper.render.comparison import Compared, CompareOrder
from sweeper.render.identifying import identified_in
from sweeper.render.lining_up import BLOCK_FRAMES, alignment_of, shifted, side_by_side, stretches
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.units import gain, level_db
from sweeper.workers import Pool, Report, Task, value_of

#: By which measurement the levels are matched: the first that both have.
LEVELS = ("loudness_lufs", "rms_dbfs")
KINDS = {1: "mono", 2: "stereo"}
#: The levels are matched by what a null test leaves least at, where that is so much less: 20 dB. Ours, not tried
#: otherwise.
BY_NULL = "null"
CLEARLY_LESS = 0.01
#: What the rounding of sums of 64-bit squares may leave of A's energy, as it is taken. Ours, not tried otherwise.
ROUNDING = 1e-14


def compared(order: CompareOrder, pool: Pool) -> Compared:
    """What B is to A. Raises AudioFileError, or whatever ended the comparing."""
    task = Task("compare", "sweeper.render.comparing:compare_files", order, order.other.name)
    (outcome,) = pool.map_in_order([task])
    return value_of(outcome, Compared, lambda failed: AudioFileError(
        f"comparing {order.one} and {order.other} {failed.what}",
        "one of the files may be damaged; bounce it again as WAV"))  # fmt: skip


def compare_files(order: CompareOrder, report: Report) -> Compared:
    """Hold B against A; runs in a worker. Raises AudioFileError when they do not compare or one cannot be read."""
    one, other = inspect(order.one), inspect(order.other)
    _check(one, other)
    report.phase("taking one file from the other as they are", FILE_PATIENCE_S)
    as_is = null_test(one, other)
    report.phase("looking for one file in the other", FILE_PATIENCE_S)
    def beat() -> None:
        report.beat("")

    same = Alignment(0.0, (False,) * one.format.channels, 1.0, None, False, ())
    alignment = same if as_is.identical else alignment_of(one, other, beat)
    if alignment is not None and _common(one, other, alignment)[1] < 1:
        alignment = None
    first, frames, late = _common(one, other, alignment)
    report.phase("measuring both", FILE_PATIENCE_S)
    ours = _measured(one, first, frames, beat)
    theirs = ours if as_is.identical else _measured(other, first + late, frames, beat)
    louder_db, louder_by = _louder(ours[0], theirs[0])
    report.phase("taking one file from the other, aligned and as loud", FILE_PATIENCE_S)
    null = as_is if as_is.identical else None
    if alignment is not None and not as_is.identical:
        null, better_db = _null(one, other, alignment, (first, frames), louder_db, beat)
        if better_db is not None:
            louder_db, louder_by = better_db, BY_NULL
            null, _ = _null(one, other, alignment, (first, frames), louder_db, beat)
    if order.deep:
        report.phase("finding what made one file of the other", FILE_PATIENCE_S)
    deep = identified_in(one, other, alignment, (first, frames), beat) if order.deep else None
    return Compared(
        one, other, as_is, alignment, first, frames, louder_db, louder_by, (ours[0], theirs[0]),
        thirds.differences_db(ours[1], theirs[1], louder_db),
        image.shift(ours[2], theirs[2], louder_db) if one.format.channels == 2 else None, null, deep,
    )  # fmt: skip


def _check(one: SoundFile, other: SoundFile) -> None:
    ours, theirs = one.format, other.format
    if ours.rate_hz != theirs.rate_hz:
        raise AudioFileError(f"{one.path.name} is at {ours.rate_hz} Hz, {other.path.name} at {theirs.rate_hz} Hz",
                             "convert one of them with the converter that you trust; nothing is converted here, "
                             "or the conversion would be compared too")  # fmt: skip
    if ours.channels != theirs.channels:
        kinds = [KINDS.get(format.channels, f"of {format.channels} channels") for format in (ours, theirs)]
        raise AudioFileError(f"{one.path.name} is {kinds[0]}, {other.path.name} is {kinds[1]}",
                             "bounce both with as many channels")  # fmt: skip
    if ours.rate_hz < LOWEST_RATE_HZ:
        raise AudioFileError(f"{one.path} has a rate of {ours.rate_hz} Hz",
                             f"loudness is defined from {LOWEST_RATE_HZ} Hz on")  # fmt: skip


def _common(one: SoundFile, other: SoundFile, alignment: Alignment | None) -> tuple[int, int, int]:
    """The first frame of A that B has too, how many there are, and how many whole frames later they are in B.

    Between the samples of B there is sound only where it has some on both sides.
    """
    offset = alignment.offset_frames if alignment is not None else 0.0
    late = round(offset)
    reach = REACH if offset != late else 0
    first = max(0, reach - late)
    return first, min(one.frames, other.frames - late - reach) - first, late


def _measured(file: SoundFile, first: int, frames: int,
              beat: Callable[[], None]) -> tuple[Measurements, Doubles, image.Image]:  # fmt: skip
    """Every meter, the thirds of an octave and the image of a stretch, in one pass."""
    panel, picture = meter.start(file.format), image.start(file.format)
    for block in blocks(file, BLOCK_FRAMES, first, first + frames):
        panel = meter.advance(panel, block)
        picture = image.advance(picture, block) if file.format.channels == 2 else picture
        beat()
    return meter.finish(panel), thirds.finish(panel.whole.thirds), picture


def _louder(ours: Measurements, theirs: Measurements) -> tuple[float, str]:
    """By how much B is louder, and by which measurement; 0.0 and "" where one of them is silent."""
    for key in LEVELS:
        one, other = ours[key], theirs[key]
        if one is not None and other is not None:
            return other - one, key
    return 0.0, ""


def _null(one: SoundFile, other: SoundFile, alignment: Alignment, common: tuple[int, int], louder_db: float,
          beat: Callable[[], None]) -> tuple[Null, float | None]:  # fmt: skip
    """B taken from A, once it lies where A does, is as loud and has A's polarity and channels.

    And by how much B is louder where another level clearly leaves less: a copy that was only made louder has other
    stretches above the gates of its loudness.
    """
    first, frames = common
    late = round(alignment.offset_frames)
    factors = np.where(alignment.inverted, -1.0, 1.0)[:, None] * gain(-louder_db)
    sums = np.zeros(3)  # energy of A, of B as it is taken, and of both together

    def differences() -> Iterator[NDArray[np.float64]]:
        moved = shifted(other, first + late, frames, alignment.offset_frames - late)
        for ours, theirs in side_by_side(stretches(one, first, first + frames), moved):
            beat()
            taken = (theirs[::-1] if alignment.exchanged else theirs) * factors
            sums[:] += np.vdot(ours, ours), np.vdot(taken, taken), np.vdot(ours, taken)
            yield ours - taken

    null = null_of(differences(), (frames, frames), one.format)
    return _told_in(null, first, one.format.rate_hz), _better_db(sums.tolist(), louder_db)


def _better_db(sums: list[float], louder_db: float) -> float | None:
    """The level of B over A that leaves least (least squares), where it leaves 20 dB less than `louder_db` does."""
    ours, theirs, both = sums
    if both <= 0 or theirs <= 0:
        return None
    left, least = ours - 2 * both + theirs, ours - both**2 / theirs
    return louder_db - level_db(both / theirs) if max(least, ROUNDING * ours) < CLEARLY_LESS * left else None


def _told_in(null: Null, first: int, rate_hz: int) -> Null:
    """The same, with its place counted from the first frame of A."""
    if null.frame is None or not first:
        return null
    frame = null.frame + first
    return Null(null.frames, null.peak_dbfs, null.rms_dbfs, frame, null.channel, frame / rate_hz)
