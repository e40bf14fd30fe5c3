"""Effects in words: numbers as they are read, and a sentence on what decides each measurement."""

from __future__ import annotations

from sweeper.table.effects.effect import Change, Effect
from sweeper.table.effects.found import Effects, Told
from sweeper.table.effects.outcomes import Outcome

#: From this share on that is settings acting together, single effects are said to be read with care.
TOGETHER = 0.3
MOST_NAMED = 3
SIGNS = "+-"


def amount(outcome: Outcome, change: Change) -> str:
    """+1.24 ± 0.30; without ± where it cannot be told."""
    half = "" if change.half is None else f" ± {change.half:.{outcome.decimals}f}"
    return f"{signed(change.difference, outcome.decimals)}{half}"


def amount_with_unit(outcome: Outcome, change: Change) -> str:
    """+1.24 dB ± 0.30"""
    number, _, half = amount(outcome, change).partition(" ± ")
    return f"{number} {outcome.difference_unit}".rstrip() + (f" ± {half}" if half else "")


def signed(value: float, decimals: int) -> str:
    """A difference with its sign; none before zero."""
    text = f"{value:+.{decimals}f}"
    return text[1:] if not text.strip("+-0.") else text


def share_words(share: float) -> str:
    """62 %"""
    return f"{100 * share:.0f} %"


def importance_words(effect: Effect) -> str:
    """62 % (40 to 81); "" where there is none."""
    one = effect.importance
    return "" if one is None else f"{share_words(one.share)} ({100 * one.lowest:.0f} to {100 * one.highest:.0f})"


def dominant(told: Told) -> str:
    """What decides a measurement, in a sentence."""
    if not told.outcome.varies:
        return f"{told.outcome.name}: does not vary"
    ranked = [one for one in told.by_size if one.change and _shows(told.outcome, one.change)]
    if not ranked:
        sayable = any(one.change is not None for one in told.effects)
        why = "no change is larger than its ±" if sayable else "these variants do not tell the settings apart"
        return f"{told.outcome.name}: {why}" + _together(told)
    first, *rest = ranked[:MOST_NAMED]
    words = f"{told.outcome.name}: most by {first.setting}, {_from_to(told.outcome, first)}"
    others = [f"{one.setting} ({amount_with_unit(told.outcome, one.change)})" for one in rest
              if one.change is not None]  # fmt: skip
    return words + (f"; then {', '.join(others)}" if others else "") + _together(told)


def untold(found: Effects) -> list[str]:
    """Why some effects cannot be told; each reason once."""
    reasons: dict[tuple[str, str], list[str]] = {}
    for told in found.told:
        for one in told.effects:
            if one.change is None:
                reasons.setdefault((one.setting, one.why), []).append(told.outcome.name)
    return [f"{setting} on {'anything' if len(names) == len(found.told) else ', '.join(names)}: {why}"
            for (setting, why), names in reasons.items()]  # fmt: skip


def within(found: Effects) -> list[str]:
    """Of which variants a setting is told that not all of them have."""
    some = [(factor.name, sum(at is not None for at in factor.chosen)) for factor in found.factors]
    return [f"{name} is heard in {had} of {found.variants} variants, and told within these"
            for name, had in some if had < found.variants]  # fmt: skip


def no_uncertainty(found: Effects) -> list[str]:
    """What has no ±, and why."""
    names = [told.outcome.name for told in found.told if not told.left_over]
    if not names:
        return []
    what = "nothing has" if len(names) == len(found.told) else f"{', '.join(names)}: no change has"
    return [f"{what} a ±: it takes every variant to find the changes, and none is left over to hold them against"]


def _shows(outcome: Outcome, change: Change) -> bool:
    """Whether anything of it is left once it is rounded."""
    return signed(change.difference, outcome.decimals)[0] in SIGNS


def _from_to(outcome: Outcome, effect: Effect) -> str:
    assert effect.change is not None
    return f"{amount_with_unit(outcome, effect.change)} from {effect.change.start} to {effect.change.end}"


def together(mixes: int) -> str:
    """What is left unexplained, of so many mixes."""
    return "settings acting together" + (", or otherwise on each mix" if mixes > 1 else "")


def _together(told: Told) -> str:
    if told.unexplained is None or share_words(told.unexplained) == share_words(0.0):
        return ""
    words = f"; {share_words(told.unexplained)} of its variation is {together(told.mixes)}"
    if told.unexplained >= TOGETHER:
        words += ": what one setting does depends on the others"
    return words
