"""A client's revision as a client says it, "loudness -0.5 LU": which measurement, how far, and what is turned."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.chain.goals import goals_of
from sweeper.chain.model import OWN_SETTINGS
from sweeper.chain.nearest import nearest
from sweeper.errors import SheetError
from sweeper.plan.reach_terms import Direction, direction_for
from sweeper.quantities import BY_NAME, Measurements, Quantity, quantity_of
from sweeper.records import HandleRecord, Sheet, StageRecord
from sweeper.render.job import GoalOrder, ReachOrder
from sweeper.units import folded, parse_amount, plain

#: How closely a revision is landed on, in its unit: a client who asks for half a dB gets half a dB. Ours, no source.
WITHIN = 0.03
#: What `--by` can name beside a setting: handles, as chain files have them.
DRIVE, CEILING = "drive", "ceiling"
DECIBELS = frozenset({"LU", "dB"})
_NUMBER = re.compile(r"\s(?=[+\-\d.,])")


@dataclass(frozen=True)
class Change:
    """A revision. by: how far from where it is, None = `to` is where it goes, in the quantity's unit. text: as asked.
    """

    quantity: Quantity
    by: float | None
    to: float | None
    text: str

    def goal(self, now: float) -> float:
        """What is to be landed on."""
        return now + self.by if self.by is not None else float(self.to or 0.0)


@dataclass(frozen=True)
class Turned:
    """The setting that is solved. stage: its number. direction: which way makes more of it come out."""

    stage: int
    setting: str
    side: str
    direction: Direction
    text: str


def read_change(text: str) -> Change:
    """Read "loudness -0.5 LU", "loudness -10.5 LUFS", "true peak -1.2 dBTP", "crest +1 dB" or "crest 9 dB".

    LU and dB with a sign are how far it goes from where it is; the measurement's own unit is where it goes, and for one
    that is in LU or dB itself that without a sign. Raises SheetError.
    """
    words = plain(text).strip()
    cut = _NUMBER.search(words)
    name, rest = (words[: cut.start()], words[cut.end() :]) if cut else (words, "")
    known = {folded(each): quantity for each, quantity in BY_NAME.items() if goals_of(quantity) and not quantity.inside}
    quantity = known.get(folded(name))
    if quantity is None:
        near = nearest(name, [each.name for each in known.values()])
        raise SheetError(f"--change {text!r}: there is no '{name}' to land on",
                         (f"did you mean '{near}'? " if near else "") + 'write e.g. "loudness -0.5 LU"')  # fmt: skip
    amount = parse_amount(rest)
    unit = quantity.difference_unit
    example = f'write e.g. "{quantity.name} {"-0.5 " + unit if unit else "0.9"}"'
    if amount is None:
        raise SheetError(f"--change {text!r} does not say by how much", example)
    unit, signed = amount.unit, rest.lstrip()[0] in "+-"
    if unit == quantity.unit and (unit not in DECIBELS or not signed):
        return Change(quantity, None, amount.value, text)
    if unit in DECIBELS and quantity.difference_unit in DECIBELS:
        if not signed:
            raise SheetError(f"--change {text!r} does not say which way", f"write +{rest.strip()} or -{rest.strip()}")
        return Change(quantity, amount.value, None, text)
    units = " or ".join(dict.fromkeys(u for u in (quantity.difference_unit, quantity.unit) if u))
    raise SheetError(f"--change {text!r}: {quantity.name} does not change by {unit or 'a plain number'}",
                     f"give it in {units}; {example}")  # fmt: skip


def order_for(change: Change, turned: Turned, now: Measurements) -> ReachOrder:
    """What a worker solves. now: the measurements of the master as it is. Raises SheetError."""
    key, value = change.quantity.key, now[change.quantity.key]
    if value is None:
        raise SheetError(f"this master has no {change.quantity.name}: {now.reasons.get(key, 'it was not measured')}",
                         "change something that it has")  # fmt: skip
    goal = change.goal(value)
    lowest, highest = goals_of(change.quantity) or (goal, goal)
    if not lowest <= goal <= highest:
        raise SheetError(f"--change {change.text!r} leads to {change.quantity.name} {goal:.2f} {change.quantity.unit}",
                         f"{lowest:g} to {highest:g} can be meant")  # fmt: skip
    target = GoalOrder(key, goal, 1, WITHIN, False, f"{change.quantity.name} {goal:g}")
    return ReachOrder(turned.stage, turned.setting, turned.side, direction_for(key, turned.direction), (target,))


def turned_by(by: str, change: Change, sheet: Sheet) -> Turned:
    """The setting that `by` names: a handle, "drive" or "ceiling", of any stage or of one, "limiter.drive", or a
    setting, "limiter.output trim", "eq.mid.Gain". Raises SheetError.
    """
    stage, _, name = by.rpartition(".")
    if not stage:
        return _handle(folded(by), change, sheet)
    head, _, side = stage.partition(".")
    number = next((n for n, s in enumerate(sheet.stages) if folded(s.name) == folded(head)), None)
    if number is None:
        names = [s.name for s in sheet.stages if not s.bypass]
        near = nearest(head, names)
        raise SheetError(f"--by {by}: no stage is called '{head}'",
                         f"did you mean '{near}'?" if near else f"there are: {', '.join(names)}")  # fmt: skip
    record = sheet.stages[number]
    _refuse_deaf(by, record, number, sheet)
    handle = next((h for h in record.handles if folded(h.name) == folded(name)), None)
    if handle is not None:
        return _turned(handle, number, side, by)
    own = next((each for each in OWN_SETTINGS if folded(each) == folded(name)), None)
    told = [applied.name for applied in (*record.settings, *record.standing) if side in ("", applied.side)]
    control = own or next((each for each in told if folded(each) == folded(name)), None)
    if control is None:
        near = nearest(name, [*OWN_SETTINGS, *told])
        raise SheetError(f"--by {by}: '{record.name}' has no '{name}'",
                         f"did you mean '{near}'?" if near else "see `sweeper recall SHEET --page`")  # fmt: skip
    return Turned(number, control, side, Direction.RAISE if own else Direction.UNKNOWN, by)


def _refuse_deaf(by: str, record: StageRecord, number: int, sheet: Sheet) -> None:
    """Raises SheetError for a stage that cannot be turned: it is not heard, or stands before what came back."""
    last = max((n for n, s in enumerate(sheet.stages) if s.outside and not s.bypass), default=-1)
    if record.bypass or number <= last:
        why = "is bypassed" if record.bypass else "stands outside, or before what came back from there"
        raise SheetError(f"--by {by}: '{record.name}' {why}", "name another stage's setting")


def _handle(name: str, change: Change, sheet: Sheet) -> Turned:
    """The handle of that name: the one that was solved then, else that of the last stage which has one."""
    last = max((n for n, s in enumerate(sheet.stages) if s.outside and not s.bypass), default=-1)
    found = [(n, handle) for n, s in enumerate(sheet.stages) for handle in s.handles
             if folded(handle.name) == name and not s.bypass and n > last]  # fmt: skip
    solved = [str(reach.get("setting", "")) for reach in sheet.reach]
    chosen = [each for each in found if f"{sheet.stages[each[0]].name}.{each[1].setting}" in solved] or found[-1:]
    if chosen:
        return _turned(chosen[-1][1], chosen[-1][0], "", f"{sheet.stages[chosen[-1][0]].name}.{name}")
    if name in (DRIVE, CEILING) and (reached := _reached(name, sheet)) is not None:
        return reached
    known = sorted({h.name for s in sheet.stages for h in s.handles})
    raise SheetError(f"--by {name}: no stage that is heard has a '{name}'",
                     (f"there is: {', '.join(known)}; " if known else "")
                     + 'or name a setting, e.g. --by "limiter.output trim"')  # fmt: skip


def _reached(name: str, sheet: Sheet) -> Turned | None:
    """On a sheet without handles, what was solved then: peaks by the ceiling, all else by the drive."""
    for reach in sheet.reach:
        is_peak = str(reach.get("measurement", "")) in ("true_peak_dbtp", "sample_peak_dbfs")
        if is_peak == (name == CEILING):
            stage, _, setting = str(reach.get("setting", "")).partition(".")
            number = next((n for n, s in enumerate(sheet.stages) if s.name == stage), None)
            if number is not None:
                sides = {applied.side for applied in sheet.stages[number].settings if applied.side}
                side, _, rest = setting.partition(".")
                side, setting = (side, rest) if side in sides else ("", setting)
                return Turned(number, setting, side, Direction.UNKNOWN, f"{stage}.{setting}")
    return None


def _turned(handle: HandleRecord, number: int, side: str, text: str) -> Turned:
    direction = {"raise": Direction.RAISE, "lower": Direction.LOWER}.get(handle.direction)
    if direction is None:  # a ceiling: raised, it lets more through
        direction = Direction.RAISE if handle.name == CEILING else Direction.UNKNOWN
    return Turned(number, handle.setting, side, direction, text)


def passed_goals(reach: Sequence[object], keys: Sequence[str], before: Measurements, now: Measurements) -> list[str]:
    """What was reached before and is not kept any more, in words: ceilings of peaks that are passed now.

    keys: what was asked for, which is no surprise.
    """
    words = []
    for each in reach:
        assert isinstance(each, dict)
        key, goal = each.get("measurement"), each.get("goal")
        if key not in ("true_peak_dbtp", "sample_peak_dbfs") or key in keys or not isinstance(goal, int | float):
            continue
        was, value = before[key], now[key]
        if value is not None and value > goal and (was is None or was <= goal):
            quantity = quantity_of(key)
            words.append(f"{quantity.name} was to stay at or under {goal:g} {quantity.unit} and is {value:.2f} now")
    return words
