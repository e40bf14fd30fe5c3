"""Stage by stage: whether what each gives now is what it gave then, from when on it is not, and what is left over.

A sheet holds marks of what every stage gave, so that this is known when the old sound is gone. Where the store of
steps, or the old render, still holds it, a null test says how much it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.audio.null import Null
from sweeper.records import Gave, Sheet, StageRecord


@dataclass(frozen=True)
class Behind:
    """What one stage gives, or all buses together. name: as messages name it. stage: its number, the last of buses.

    same: None = not known. from_s, to_s: the stretch in which the first difference is, None where all is the same or
    nothing is known. channel: where that is, counted from 0, None = in more than one. null: what a null test of now
    against then leaves; None where the old sound is not there any more.
    """

    name: str
    stage: int
    same: bool | None
    from_s: float | None = None
    to_s: float | None = None
    channel: int | None = None
    null: Null | None = None

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        return {"stage": self.name, "same": self.same, "from_s": self.from_s, "to_s": self.to_s,
                "channel": self.channel, "null_peak_dbfs": self.null.peak_dbfs if self.null else None,
                "first_s": self.null.first_s if self.null else None}  # fmt: skip


def stagewise(then: Sheet, now: Sheet) -> tuple[Behind, ...]:
    """Every stage that is heard, in order, by the marks on the two sheets."""
    rate_hz, channels = then.source.rate_hz, then.source.channels
    back = _came_back(then, now)
    return tuple(Behind(name, number, True) if number <= back else
                 _behind(name, number, then.stages[number], now.stages[number], rate_hz, channels)
                 for name, number in heard(then.stages))  # fmt: skip


def _came_back(then: Sheet, now: Sheet) -> int:
    """The last stage outside where both begin with the same recording of it; -1 = none. Nothing before it is heard."""
    return max((n for n, (one, other) in enumerate(zip(then.stages, now.stages, strict=True))
                if one.returned and one.returned == other.returned and not one.bypass), default=-1)  # fmt: skip


def heard(stages: Sequence[StageRecord]) -> Iterator[tuple[str, int]]:
    """Name and number of every stage that is heard; all buses are one, with the number of the last on them."""
    audible = [number for number, stage in enumerate(stages) if not stage.bypass]
    for at, number in enumerate(audible):
        stage = stages[number]
        following = stages[audible[at + 1]] if at + 1 < len(audible) else None
        if stage.bus and following is not None and following.bus:
            continue
        names = dict.fromkeys(stages[n].bus for n in audible if stages[n].bus)
        yield ("the buses " + " and ".join(f"'{name}'" for name in names) if stage.bus else _label(stage)), number


def first_other(stages: Sequence[Behind]) -> tuple[Behind | None, bool]:
    """The first stage that gives something else than then; and whether all before it are known to give the same."""
    sure = True
    for stage in stages:
        if stage.same is False:
            return stage, sure
        sure = sure and stage.same is True
    return None, sure


def with_nulls(stages: Sequence[Behind], nulls: Mapping[int, Null]) -> tuple[Behind, ...]:
    """The stages with what null tests left, by their numbers."""
    return tuple(replace(stage, null=nulls.get(stage.stage)) for stage in stages)


def _label(stage: StageRecord) -> str:
    return f"'{stage.name}' ({stage.plugin})" if stage.plugin else f"'{stage.name}'"


def _behind(name: str, number: int, then: StageRecord, now: StageRecord, rate_hz: int, channels: int) -> Behind:
    if not then.gave or not now.gave or then.gave[0].every_frames != now.gave[0].every_frames:
        return Behind(name, number, None)
    one, other = then.gave[0], now.gave[0]
    if one == other:
        return Behind(name, number, True)
    at, ours, theirs = _first(one, other)
    every_s = one.every_frames / rate_hz
    end_s = min(max(one.frames, other.frames) / rate_hz, (at + 1) * every_s)
    sides = [n for n in range(channels) if ours[8 * n : 8 * n + 8] != theirs[8 * n : 8 * n + 8]]
    return Behind(name, number, False, at * every_s, end_s, sides[0] if len(sides) == 1 and channels > 1 else None)


def _first(one: Gave, other: Gave) -> tuple[int, str, str]:
    """The number of the first mark that differs, and both; where one is shorter it differs from where that ends."""
    ours, theirs = one.marks.split(), other.marks.split()
    pairs = zip(ours, theirs, strict=False)
    return next(((n, a, b) for n, (a, b) in enumerate(pairs) if a != b), (min(len(ours), len(theirs)) - 1, "", ""))


def old_sounds(then: Sheet, stages: Sequence[Behind], old: Path | None, kept: Mapping[str, Path]) -> dict[int, Path]:
    """Stage number -> where its sound of then lies, of those that give something else now.

    old: the render of then. kept: marks -> a file with that sound, as the store of steps has them.
    """
    found: dict[int, Path] = {}
    for stage in stages:
        if stage.same is False and then.stages[stage.stage].gave[0].marks in kept:
            found[stage.stage] = kept[then.stages[stage.stage].gave[0].marks]
    if old is not None and stages and stages[-1].same is False:
        found[stages[-1].stage] = old
    return found
