"""A past master's chain looked into: what each stage did to the music, every control where it stood."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.errors import SheetError
from sweeper.recall.asked import Asked
from sweeper.recall.find import Found
from sweeper.recall.mix import same_music
from sweeper.recall.outside import came_back
from sweeper.recall.repeating import unsteady
from sweeper.recall.setups import required, set_up
from sweeper.recall.tasks import one_task
from sweeper.render.inside import Inside, InsideOrder
from sweeper.render.job import TONE_HZ, Look
from sweeper.render.jobs import mix_file
from sweeper.render.looks import every_look
from sweeper.units import folded
from sweeper.workers import Pool


@dataclass(frozen=True)
class Tone:
    """What harmonics are told of. near_hz: about which frequency. rms_dbfs: None = as loud as the music there."""

    near_hz: float = TONE_HZ
    rms_dbfs: float | None = None


def inside_of(found: Found, asked: Asked, names: Collection[str], tone: Tone) -> Inside:
    """Look into stages of a sheet, by their names; none = every one that is heard, and the whole chain.

    Writes nothing. Raises AudioFileError when the mix is not the same music, SheetError, PluginError.
    """
    stages = set_up(found, asked.results)
    start = came_back(found, asked.results)
    setups = required(stages, start.covered if start else 0)
    floors = {setups[n]: one.floor_dbfs for n, record in enumerate(found.sheet.stages)
              for one in unsteady([replace(found.sheet, stages=(record,))])}  # fmt: skip
    every = every_look(setups, floors)
    looks = tuple(replace(look, tone_hz=tone.near_hz, tone_dbfs=tone.rms_dbfs)
                  for look in every if not names or _is_named(look, [s.name for s in setups], names))  # fmt: skip
    heard = [setups[look.stage].name for look in every if look.stage is not None]
    missing = [name for name in names if folded(name) not in map(folded, heard)]
    if missing or not looks:
        raise SheetError(f"no stage called '{missing[0]}' is heard in {found.place}" if missing else
                         f"no stage is heard in {found.place}", f"there are: {', '.join(heard) or 'none'}")  # fmt: skip
    takes = TemporaryDirectory(prefix="sweeper-inside-", ignore_cleanup_errors=True)
    with takes as folder, Pool(1, asked.watch) as pool:
        mix = same_music(found.sheet.source, found.run, asked.mix, pool)
        highest_hz = mix.file.format.rate_hz // 4
        if tone.near_hz > highest_hz:
            raise SheetError(f"a tone of {tone.near_hz:g} Hz has no harmonics at {mix.file.format.rate_hz} Hz",
                             f"up to {highest_hz} Hz can be asked for")  # fmt: skip
        order = InsideOrder(mix_file(mix), setups, looks, asked.patience_s, block_frames=found.sheet.block_frames,
                            start=start, folder=Path(folder))  # fmt: skip
        made = one_task(pool, "sweeper.render.inside_task:look_inside", order, f"looking into {found.sheet.variant}")
    assert isinstance(made, Inside)
    return made


def _is_named(look: Look, stages: list[str], names: Collection[str]) -> bool:
    return look.stage is not None and folded(stages[look.stage]) in map(folded, names)
