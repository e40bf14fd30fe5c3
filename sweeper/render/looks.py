"""From what a chain file names to looks at the stages of one variant, and what cannot be looked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sweeper.host.setup import StageSetup
from sweeper.plan.looks import split
from sweeper.render.inside import BEFORE_RETURN, BYPASSED, MUSIC_KEYS, NOT_IN, ONE_OUTSIDE, TONE_KEYS
from sweeper.render.job import Look

#: Peaks in dBFS of what two renders of a stage differed by; None = in nothing.
Floors = Mapping[StageSetup, float | None]


def looks_for(stages: Sequence[StageSetup], keys: Iterable[str],
              floors: Floors) -> tuple[tuple[Look, ...], dict[str, str]]:  # fmt: skip
    """The looks that find the keys, one a stage, in the order of naming; and the keys that cannot be found, and why."""
    wanted: dict[str, set[str]] = {}
    for key in keys:
        stage, own = split(key)
        wanted.setdefault(stage, set()).add(own)
    looks: list[Look] = []
    unseen: dict[str, str] = {}
    for stage, named in wanted.items():
        why, number = _place(stages, stage)
        if why:
            unseen |= {f"{stage}.{key}" if stage else key: why for key in sorted(named)}
        else:
            music, tone = bool(named & {*MUSIC_KEYS}), bool(named & {*TONE_KEYS})
            looks.append(Look(number, music, tone, repeats_dbfs=repeats_dbfs(stages, number, floors)))
    return tuple(looks), unseen


def every_look(stages: Sequence[StageSetup], floors: Floors) -> tuple[Look, ...]:
    """The whole chain, and every stage with a plugin that is heard; with one outside, those behind it alone."""
    whole: list[int | None] = [] if _last_outside(stages) >= 0 else [None]
    heard = [number for number, setup in enumerate(stages) if not _why_not(stages, number) and not setup.is_fader]
    return tuple(Look(number, repeats_dbfs=repeats_dbfs(stages, number, floors)) for number in (*whole, *heard))


def look_s(stages: Sequence[StageSetup], looks: Sequence[Look], speed: Mapping[StageSetup, float]) -> float:
    """Seconds of plugins that looks take for a second of the passage. speed: the same of each stage, once through.

    The passage goes once through all up to the last that is looked at, and twice more through each of those.
    """
    if not looks:
        return 0.0
    each_s = [0.0 if setup.bypass else speed.get(setup, 0.0) for setup in stages]
    last = max(len(stages) - 1 if look.stage is None else look.stage for look in looks)
    again = sum(2 * (sum(each_s) if look.stage is None else each_s[look.stage]) for look in looks if look.music)
    return sum(each_s[: last + 1]) + again


def repeats_dbfs(stages: Sequence[StageSetup], number: int | None, floors: Floors) -> float | None:
    """The most that two renders of the stage, or of any in the chain, are known to differ by."""
    own = [setup for setup in stages if not setup.bypass] if number is None else [stages[number]]
    return max((floor for setup in own if (floor := floors.get(setup)) is not None), default=None)


def _place(stages: Sequence[StageSetup], name: str) -> tuple[str, int | None]:
    """Why it cannot be looked at, "" = it can; its number, None = the whole chain."""
    if not name:
        return (ONE_OUTSIDE if _last_outside(stages) >= 0 else ""), None
    number = next((n for n, setup in enumerate(stages) if setup.name == name), None)
    return (NOT_IN, None) if number is None else (_why_not(stages, number), number)


def _why_not(stages: Sequence[StageSetup], number: int) -> str:
    if stages[number].bypass:
        return BYPASSED
    return BEFORE_RETURN if number <= _last_outside(stages) else ""


def _last_outside(stages: Sequence[StageSetup]) -> int:
    return max((number for number, setup in enumerate(stages) if setup.outside and not setup.bypass), default=-1)
