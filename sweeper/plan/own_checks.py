"""Trims, levels and blend that a chain file would take beyond their range, counted from where they are dialled."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.chain.model import BLEND, OWN_SETTINGS, Chain, FromDialled, Mark, Number, SettingRef, SettingValue, Stage
from sweeper.errors import Problem
from sweeper.plan.names import amount_of, setting_of, value_of

#: How far a stage's own settings may go, in their units; the level of a bus ends earlier.
LOUDEST_DB, LOUDEST_LEVEL_DB = 60.0, 20.0


def beyond(chain: Chain) -> list[Problem]:
    """A problem for every value of `vary` and every ride that leads out of the range of a trim, a level or blend."""
    return [
        Problem(str(chain.path), mark.line, mark.column, what, remedy)
        for stage in chain.stages
        for choice in stage.choices
        for mark, what, remedy in (*_varied(chain, choice), *_ridden(chain, choice))
    ]


def _varied(chain: Chain, choice: Stage) -> Iterator[tuple[Mark, str, str]]:
    for axis in chain.vary:
        if axis.ref.stage == choice.name and not axis.ref.ride and setting_of(choice, axis.ref) in OWN_SETTINGS:
            for value in axis.values:
                yield from _told(choice, axis.ref, value_of(choice, axis.ref, value), axis.mark)


def _ridden(chain: Chain, choice: Stage) -> Iterator[tuple[Mark, str, str]]:
    for ride in chain.rides:
        if ride.ref.stage == choice.name and setting_of(choice, ride.ref) in OWN_SETTINGS:
            value = amount_of(choice, ride.ref, ride.amount, ride.relative)
            yield from _told(choice, ride.ref, value, ride.mark)


def _told(choice: Stage, ref: SettingRef, value: SettingValue, mark: Mark) -> Iterator[tuple[Mark, str, str]]:
    setting = setting_of(choice, ref)
    low, high, unit = _range(choice, setting)
    at = _dialled(choice, setting)
    if isinstance(value, FromDialled) and isinstance(value.offset, Number):
        goal, said = at + value.offset.value, f"is dialled at {at:g} {unit} and would come to"
    elif isinstance(value, Number):
        goal, said = value.value, "cannot be"
    else:
        return
    if not low - 1e-9 <= goal <= high + 1e-9:
        yield mark, f"'{ref}' {said} {goal:g} {unit}", f"it goes from {low:g} to {high:g} {unit}"


def _range(choice: Stage, setting: str) -> tuple[float, float, str]:
    if setting == BLEND:
        return 0.0, 100.0, "%"
    return -LOUDEST_DB, LOUDEST_LEVEL_DB if choice.is_fader else LOUDEST_DB, "dB"


def _dialled(choice: Stage, setting: str) -> float:
    trims_db = {"input trim": choice.input_trim_db, "output trim": choice.output_trim_db}
    return 100 * choice.blend if setting == BLEND else trims_db[setting]
