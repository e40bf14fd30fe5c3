"""Everything that is heard of a run, made playable, looked at and matched in level."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sweeper.audio import inspect
from sweeper.audition.heard import Found, Heard, HeardMix, Kind, heard
from sweeper.audition.levels import check_sections, gains_db
from sweeper.audition.look import Look, LookOrder
from sweeper.audition.playable import PlayableOrder, is_playable
from sweeper.audition.preview import coded
from sweeper.errors import SweeperError
from sweeper.render.sources import not_measured
from sweeper.render.writing import write_whole
from sweeper.workers import Failed, Pool, Task, value_of

PLACE = "audition"


@dataclass(frozen=True)
class Ready:
    """A sound as it is played. file: 32-bit float WAV at the mix's rate. gain_db: makes it as loud as the others."""

    found: Found
    file: Path
    look: Look
    gain_db: float = 0.0
    note: str = ""


@dataclass(frozen=True)
class ReadyMix:
    """A mix with all that is heard of it."""

    heard: HeardMix
    rate_hz: int
    frames: int
    sounds: tuple[Ready, ...]


@dataclass(frozen=True)
class Gathered:
    """What a run has to be heard. matched_over: sections, () = the whole. warnings: in words."""

    heard: Heard
    mixes: tuple[ReadyMix, ...]
    matched_over: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def sounds(self) -> tuple[Ready, ...]:
        """Of every mix."""
        return tuple(sound for mix in self.mixes for sound in mix.sounds)


def gathered(folder: Path, wanted: Sequence[str], match_over: Sequence[str], pool: Pool,
             previews: Collection[str] = ()) -> Gathered:  # fmt: skip
    """The run of that folder, ready to be heard; copies and looks are kept in its `audition` folder.

    wanted: variants by id, () = those that are kept. match_over: sections instead of the run's own. previews: ids of
    variants that are heard through lossy codecs as well.
    Raises RunFolderError for a variant or a section that is not there, and AudioFileError for a render that cannot be
    read. A mix or a reference that cannot be read, or has changed, is told and left out.
    """
    all_of_it = heard(folder, wanted)
    for mix in all_of_it.mixes:
        check_sections(match_over, mix.sections, mix.name)
    place = folder_in(all_of_it.run.path)
    told: list[str] = []
    mixes = [_ready(mix, place, pool, told, all_of_it, match_over, previews) for mix in all_of_it.mixes]
    if all_of_it.left_out:
        told.append(f"not in the page: {', '.join(all_of_it.left_out)}; name variants to hear others")
    return Gathered(all_of_it, tuple(mixes), tuple(match_over or all_of_it.match_over), tuple(told))


def folder_in(run: Path) -> Path:
    """The run's folder for its audition, made when it is not there. Raises RunFolderError."""
    from sweeper.audio.placing import unwritable

    place = run.absolute() / PLACE
    try:
        for folder in (place, place / "sounds", place / "looks"):
            folder.mkdir(exist_ok=True)
    except OSError as exc:
        raise unwritable(place, exc) from exc
    return place


def _ready(mix: HeardMix, place: Path, pool: Pool, told: list[str], whole: Heard, match_over: Sequence[str],
           previews: Collection[str]) -> ReadyMix:  # fmt: skip
    first = inspect(mix.sounds[0].file)
    copies = _playable(mix, first.format.rate_hz, place, pool, told)
    copies += coded([(found, file) for found, file, _ in copies if found.id in previews], place, pool, told)
    looks = looked_at([file for _, file, _ in copies], [_key(found, file) for found, file, _ in copies], place, pool)
    gains = gains_db([found for found, _, _ in copies], looks, mix.sections, whole.match_over, match_over)
    sounds = [Ready(found, file, look, gain, note)
              for (found, file, note), look, gain in zip(copies, looks, gains, strict=True)]  # fmt: skip
    return ReadyMix(mix, first.format.rate_hz, first.frames, tuple(sounds))


def _playable(mix: HeardMix, rate_hz: int, place: Path, pool: Pool, told: list[str]) -> list[tuple[Found, Path, str]]:
    """Each sound with the file that is played, and what to say of it; one that cannot be is told and left out."""
    ready: dict[str, tuple[Found, Path, str]] = {}
    orders: dict[str, PlayableOrder] = {}
    for found in mix.sounds:
        try:
            file = inspect(found.file)
        except SweeperError as exc:
            if found.kind is Kind.VARIANT:
                raise
            told.append(f"{found.name} is left out: {exc.what}")
            continue
        note = "" if file.format.rate_hz == rate_hz else f"converted from {file.format.rate_hz} Hz to {rate_hz} Hz"
        target = place / "sounds" / f"{found.id}-{(found.sha256 or 'copy')[:16]}-{rate_hz}.wav"
        ready[found.id] = (found, target, note)
        if found.kind is Kind.VARIANT and is_playable(file, rate_hz):
            ready[found.id] = (found, found.file.absolute(), note)
        elif not target.is_file():
            orders[found.id] = PlayableOrder(found.file.absolute(), target, rate_hz, found.sha256, -found.undo_db)
    tasks = [Task(id, "sweeper.audition.playable:make_playable", order, order.source.name)
             for id, order in orders.items()]  # fmt: skip
    for id, outcome in zip(orders, pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            found, _, _ = ready.pop(id)
            what = outcome.error.what if isinstance(outcome.error, SweeperError) else outcome.what
            told.append(f"{found.name} is left out: {what}")
    return list(ready.values())


def looked_at(files: Sequence[Path], keys: Sequence[str], place: Path, pool: Pool) -> list[Look]:
    """A look at each file; kept under its key, and read from there the next time. Raises AudioFileError."""
    names = dict(zip(files, keys, strict=True))
    kept = {file: _kept(place / "looks" / f"{key}.json") for file, key in names.items()}
    orders = [LookOrder(file) for file in files if kept[file] is None]
    tasks = [Task(str(n), "sweeper.audition.look:look_at", order, order.file.name) for n, order in enumerate(orders)]
    for order, outcome in zip(orders, pool.map_in_order(tasks), strict=True):
        kept[order.file] = found = value_of(outcome, Look, partial(not_measured, order.file))
        text = json.dumps(found.as_data(), allow_nan=False)
        write_whole(place / "looks" / f"{names[order.file]}.json", text)
    return [look for file in files if (look := kept[file]) is not None]


def _key(found: Found, file: Path) -> str:
    """What a look is kept by: the sound, and how much of it there is."""
    import hashlib

    return hashlib.sha256(f"{found.sha256} {file.name} {file.stat().st_size}".encode()).hexdigest()[:32]


def _kept(path: Path) -> Look | None:
    """A look that was kept; None where there is none, or one that this version did not write."""
    try:
        return Look.from_data(json.loads(path.read_text("utf-8")))
    except (OSError, ValueError, KeyError, TypeError):
        return None
