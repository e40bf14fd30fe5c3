"""Sections proposed for a mix: what is asked, what a worker does (`propose`), and what it gives back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import SoundFile, blocks, inspect
from sweeper.errors import AudioFileError
from sweeper.meter import bands, loudness
from sweeper.meter.k_weighting import LOWEST_RATE_HZ
from sweeper.meter.sections import LEAST_SOUND_S, Part, sections
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.units import clock
from sweeper.workers import Pool, Report, Task, value_of

NAMED = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True)
class SectionsOrder:
    """Propose at most that many sections for a mix (1 to 26), none shorter than shortest_s (1 or more)."""

    file: Path
    most: int
    shortest_s: float


@dataclass(frozen=True)
class Proposed:
    """A section, as it could stand in a chain file.

    name: a letter, alike sections have the same, and a number. start_s, end_s: whole tenths of a second.
    loudness_lufs: as a run measures the section. louder_lu, more_bass_db, more_top_db: against the section before;
    None for the first, and where one of the two has none. alike: the other sections with its letter.
    """

    name: str
    start_s: float
    end_s: float
    loudness_lufs: float
    louder_lu: float | None
    more_bass_db: float | None
    more_top_db: float | None
    alike: tuple[str, ...]
    loudest: bool


@dataclass(frozen=True)
class Proposal:
    """What was found in a mix. remarks: what is left out, or why there is one section or none."""

    file: SoundFile
    sections: tuple[Proposed, ...]
    remarks: tuple[str, ...]


def proposed(order: SectionsOrder, pool: Pool) -> Proposal:
    """The sections proposed for a mix. Raises AudioFileError, or whatever ended the search."""
    task = Task("sections", "sweeper.render.proposing:propose", order, order.file.name)
    (outcome,) = pool.map_in_order([task])
    return value_of(outcome, Proposal, lambda failed: AudioFileError(
        f"finding sections in {order.file} {failed.what}", "the file may be damaged; bounce it again"))  # fmt: skip


def propose(order: SectionsOrder, report: Report) -> Proposal:
    """Find the sections of a mix, then measure each. Raises AudioFileError when it cannot be read or mastered."""
    report.phase(f"listening to {order.file.name}", FILE_PATIENCE_S)
    file = inspect(order.file)
    _check(file)
    state = bands.start(file.format)
    for block in blocks(file, FILE_BLOCK_FRAMES):
        state = bands.advance(state, block)
        report.beat("", state.frames / file.frames)
    parts = sections(bands.finish(state), order.most, order.shortest_s)
    report.phase(f"measuring the sections of {order.file.name}", FILE_PATIENCE_S)
    levels = [_loudness_lufs(file, part, lambda: report.beat("")) for part in parts]
    heard = [(part, level) for part, level in zip(parts, levels, strict=True) if level is not None]
    quiet = [part for part, level in zip(parts, levels, strict=True) if level is None]
    return Proposal(file, _described(heard), (*_left_out(file, parts, quiet), *_why_few(order, parts, len(heard))))


def _check(file: SoundFile) -> None:
    if file.format.channels > 2:
        raise AudioFileError(f"{file.path} has {file.format.channels} channels",
                             "mono and stereo mixes can be mastered")  # fmt: skip
    if file.format.rate_hz < LOWEST_RATE_HZ:
        raise AudioFileError(f"{file.path} has a rate of {file.format.rate_hz} Hz",
                             f"loudness is defined from {LOWEST_RATE_HZ} Hz on")  # fmt: skip


def _loudness_lufs(file: SoundFile, part: Part, beat: Callable[[], None]) -> float | None:
    """Integrated loudness of a part as if cut out, as a run measures it; None where nothing is over -70 LUFS."""
    state = loudness.start(file.format)
    first, end = (round(second * file.format.rate_hz) for second in (part.start_s, part.end_s))
    for block in blocks(file, FILE_BLOCK_FRAMES, first, min(end, file.frames)):
        state = loudness.advance(state, block)
        beat()
    return loudness.finish(state)["loudness_lufs"].value


def _described(heard: Sequence[tuple[Part, float]]) -> tuple[Proposed, ...]:
    names = _names([part.kind for part, _ in heard])
    loudest = max(range(len(heard)), key=lambda at: heard[at][1]) if len(heard) > 1 else None
    found = []
    for at, (part, level_lufs) in enumerate(heard):
        alike = tuple(name for name in names if name[0] == names[at][0] and name != names[at])
        louder_lu, bass_db, top_db = _against(heard[at], heard[at - 1]) if at else (None, None, None)
        found.append(Proposed(names[at], part.start_s, part.end_s, level_lufs, louder_lu, bass_db, top_db, alike,
                              at == loudest))  # fmt: skip
    return tuple(found)


def _against(one: tuple[Part, float], before: tuple[Part, float]) -> tuple[float, float | None, float | None]:
    """Louder, more bass, more top than the part before."""
    (part, level_lufs), (other, other_lufs) = one, before
    return level_lufs - other_lufs, _more(part.bass_db, other.bass_db), _more(part.top_db, other.top_db)


def _more(value: float | None, before: float | None) -> float | None:
    return None if value is None or before is None else value - before


def _names(kinds: Sequence[int]) -> list[str]:
    """a1, b1, a2: a letter a kind in order of appearance, numbered."""
    letters = dict(zip(dict.fromkeys(kinds), NAMED, strict=False))
    met: Counter[int] = Counter()
    names = []
    for kind in kinds:
        met[kind] += 1
        names.append(f"{letters[kind]}{met[kind]}")
    return names


def _left_out(file: SoundFile, parts: Sequence[Part], quiet: Sequence[Part]) -> list[str]:
    """Silence that belongs to no section, a sentence each."""
    if not parts:
        return []
    words = []
    if parts[0].start_s > 0:
        words.append(f"silence up to {clock(parts[0].start_s)} is left out")
    if parts[-1].end_s < file.frames * 10 // file.format.rate_hz / 10:
        words.append(f"silence from {clock(parts[-1].end_s)} on is left out")
    return words + [f"{clock(part.start_s)}-{clock(part.end_s)} is left out: nothing there is louder than -70 LUFS"
                    for part in quiet]  # fmt: skip


def _why_few(order: SectionsOrder, parts: Sequence[Part], count: int) -> list[str]:
    if not parts:
        return [f"no section: less than {LEAST_SOUND_S:g} s of it sounds"]
    if count != 1 or len(parts) > 1 or order.most == 1:
        return [] if count else ["no section: nothing is louder than -70 LUFS"]
    if parts[0].end_s - parts[0].start_s < 2 * order.shortest_s:
        return [f"one section: it is too short for two of {order.shortest_s:g} s"]
    return ["one section: its level and its spectrum stay much the same throughout"]
