"""Effects as what a picture of them shows."""

from __future__ import annotations

from sweeper.pictures.effects import Cell, Column, Dot, Setting, Share, Sheet
from sweeper.table.effects.additive import places_of
from sweeper.table.effects.effect import Change, Effect, shown_number
from sweeper.table.effects.factors import Factor
from sweeper.table.effects.found import Effects, Told
from sweeper.table.effects.words import amount_with_unit, no_uncertainty, share_words, together, untold, within

HOW_TO_READ = ("Above: the change from the first value to the last, or from the lowest mean to the highest where these "
               "are not its ends; bold where it is larger than its ±. Bar: importance, the setting's share in deciding "
               "whether a variant is among the lowest or the highest third, with its 95 % range. Dot: the mean over "
               "everything else that was varied; the line through it is the 95 % interval of how far it is from the "
               "mean over all values, and goes on where it reaches the edge. Dashed: the mean of all "
               "variants.")  # fmt: skip
MINUS = "\u2212"


def drawn(found: Effects) -> Sheet:
    """The page."""
    mixes = f" of {len(found.mixes)} mixes, each taken by itself" if len(found.mixes) > 1 else ""
    return Sheet(
        found.run.title, f"What each setting did, in {found.variants} variants{mixes}", tuple(map(_column, found.told)),
        tuple(_setting(factor, number, found) for number, factor in enumerate(found.factors)),
        (HOW_TO_READ, *within(found), *untold(found), *no_uncertainty(found), *found.remarks),
    )  # fmt: skip


def lines_of(factor: Factor) -> tuple[str, ...]:
    """A line for each value, or for each place of a trend."""
    if not factor.trend:
        return factor.values
    _, *between, _ = places_of(factor)
    return (factor.values[0], *(shown_number(at, factor.unit) for at in between), factor.values[-1])


def _column(told: Told) -> Column:
    rest = "" if told.unexplained is None else f"{share_words(told.unexplained)} {together(told.mixes)}"
    return Column(told.outcome.name, told.outcome.unit, told.outcome.decimals, told.mean, rest)


def _setting(factor: Factor, number: int, found: Effects) -> Setting:
    lines = lines_of(factor)
    cells = tuple(_cell(told, told.effects[number], lines) for told in found.told)
    return Setting(factor.name, lines, bool(factor.numbers), cells)


def _cell(told: Told, effect: Effect, lines: tuple[str, ...]) -> Cell:
    if effect.change is None:
        return Cell((None,) * len(lines), "", why=effect.why)
    levels = {level.value: level for level in effect.levels}
    dots = tuple(Dot(levels[words].mean, levels[words].half) if words in levels else None for words in lines)
    share = effect.importance
    return Cell(dots, _change(told, effect.change), effect.change.stands_out,
                None if share is None else Share(share.share, share.lowest, share.highest))  # fmt: skip


def _change(told: Told, change: Change) -> str:
    """+1.24 dB ± 0.30, with a true minus sign."""
    return amount_with_unit(told.outcome, change).replace("-", MINUS, 1)
