"""Trims, levels and blend that a chain file would take beyond their range, counted from where they are dialled."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sweeper.chain.model import OWN_SETTINGS, Chain, FromDialled, Mark, Number, SettingRef, SettingValue, Stage
from sweeper.chain.own_chain import each_chain
from sweeper.chain.own_settings import OwnRange, own_dialled, own_range
from sweeper.errors import Problem
from sweeper.plan.names import amount_of, setting_of, value_of

#: What decimals make of a sum.
_ROUNDING = 1e-9


def beyond(chain: Chain) -> list[Problem]:
    """A problem for every value of `vary` or of one mix, and every ride, that leads out of the range of a trim, a level
    or blend.

    A ride is counted from the lowest and the highest that its setting is dialled or varied to.
    """
    return list(dict.fromkeys(
        Problem(str(chain.path), mark.line, mark.column, what, remedy)
        for own in (chain, *each_chain(chain))
        for stage in own.stages
        for choice in stage.choices
        for mark, what, remedy in (*_varied(own, choice), *_ridden(own, choice), *_of_mixes(own, choice))
    ))  # fmt: skip


def _of_mixes(chain: Chain, choice: Stage) -> Iterator[tuple[Mark, str, str]]:
    """What mixes have of their own."""
    for own in (own for mix in chain.mixes for own in mix.settings):
        if own.ref.stage == choice.name and not own.ref.ride and setting_of(choice, own.ref) in OWN_SETTINGS:
            at = own_dialled(choice, setting_of(choice, own.ref))
            yield from _told(choice, own.ref, own.value, (at,), own.mark)


def _varied(chain: Chain, choice: Stage) -> Iterator[tuple[Mark, str, str]]:
    for axis in chain.vary:
        if axis.ref.stage == choice.name and not axis.ref.ride and setting_of(choice, axis.ref) in OWN_SETTINGS:
            at = own_dialled(choice, setting_of(choice, axis.ref))
            for value in axis.values:
                yield from _told(choice, axis.ref, value_of(choice, axis.ref, value), (at,), axis.mark)


def _ridden(chain: Chain, choice: Stage) -> Iterator[tuple[Mark, str, str]]:
    for ride in chain.rides:
        if ride.ref.stage == choice.name and setting_of(choice, ride.ref) in OWN_SETTINGS:
            bases = _bases(chain, choice, ride.ref)
            amounts = [(ride.amount, ride.mark)]
            for axis in chain.vary:
                amounts += [(value, axis.mark) for value in axis.values if axis.ref.ride == ride.name]
            for amount, mark in amounts:
                yield from _told(choice, ride.ref, amount_of(choice, ride.ref, amount, ride.relative), bases, mark)


def _bases(chain: Chain, choice: Stage, ridden: SettingRef) -> tuple[float, ...]:
    """The lowest and the highest that a ridden setting is dialled or varied to."""
    setting = setting_of(choice, ridden)
    at = own_dialled(choice, setting)
    varied = [value_of(choice, axis.ref, value) for axis in chain.vary for value in axis.values
              if axis.ref.stage == choice.name and not axis.ref.ride and setting_of(choice, axis.ref) == setting]
    found = sorted([at, *(goal for value in varied if (goal := _goal(value, at)) is not None)])
    return tuple(dict.fromkeys((found[0], found[-1])))


def _told(choice: Stage, ref: SettingRef, value: SettingValue, bases: Sequence[float],
          mark: Mark) -> Iterator[tuple[Mark, str, str]]:  # fmt: skip
    limits = own_range(setting_of(choice, ref), choice.is_fader)
    if not isinstance(value, FromDialled):
        bases = bases[:1]
    for at in bases:
        goal = _goal(value, at)
        if goal is not None and not limits.low - _ROUNDING <= goal <= limits.high + _ROUNDING:
            yield mark, _words(choice, ref, value, at, goal, limits), f"it goes from {limits.low:g} to " \
                                                                     f"{limits.high:g} {limits.unit}"
            return


def _words(choice: Stage, ref: SettingRef, value: SettingValue, at: float, goal: float, limits: OwnRange) -> str:
    if not isinstance(value, FromDialled):
        return f"'{ref}' cannot be {goal:g} {limits.unit}"
    how = "dialled" if at == own_dialled(choice, setting_of(choice, ref)) else "varied"
    to = "at" if how == "dialled" else "to"
    return f"'{ref}' is {how} {to} {at:g} {limits.unit} and would come to {goal:g} {limits.unit}"


def _goal(value: SettingValue, at: float) -> float | None:
    """Where a value leads from `at`; None for one that is no number."""
    if isinstance(value, FromDialled) and isinstance(value.offset, Number):
        return at + value.offset.value
    return value.value if isinstance(value, Number) else None
