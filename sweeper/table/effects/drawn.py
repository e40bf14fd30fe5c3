"""Effects as what a picture of them shows."""

from __future__ import annotations

from sweeper.pictures.effects import Cell, Column, Dot, Setting, Share, Sheet
from sweeper.table.effects.additive import places_of
from sweeper.table.effects.effect import Effect, shown_number
from sweeper.table.effects.factors import Factor
from sweeper.table.effects.found import Effects, Told
from sweeper.table.effects.words import amount_with_unit, no_uncertainty, share_words, untold, within

HOW_TO_READ = ("Dot: the mean over everything else that was varied, its number beside it; the line through it is the "
               "95 % interval of how far it is from the mean over all values, and goes on where it reaches the edge. "
               "Dashed: the mean of all variants. Bar: importance, the share that the setting has in deciding whether "
               "a variant is in the upper or the lower half, with its 95 % range.")  # fmt: skip


def drawn(found: Effects) -> Sheet:
    """The page."""
    mixes = f" of {len(found.mixes)} mixes, each taken by itself" if len(found.mixes) > 1 else ""
    return Sheet(
        found.run.title, f"What each setting did, in {found.variants} variants{mixes}", tuple(map(_column, found.told)),
        tuple(_setting(factor, number, found) for number, factor in enumerate(found.factors)),
        (HOW_TO_READ, *(f"{words[0].upper()}{words[1:]}." for words in
                        [*within(found), *untold(found), *no_uncertainty(found), *found.remarks])),
    )  # fmt: skip


def lines_of(factor: Factor) -> tuple[str, ...]:
    """A line for each value, or for each place of a trend."""
    if not factor.trend:
        return factor.values
    _, *between, _ = places_of(factor)
    return (factor.values[0], *(shown_number(at, factor.unit) for at in between), factor.values[-1])


def _column(told: Told) -> Column:
    rest = "" if told.unexplained is None else f"{share_words(told.unexplained)} is no sum of single effects"
    return Column(told.outcome.name, told.outcome.unit, told.outcome.decimals, told.mean, rest)


def _setting(factor: Factor, number: int, found: Effects) -> Setting:
    lines = lines_of(factor)
    cells = tuple(_cell(told, told.effects[number], lines) for told in found.told)
    return Setting(factor.name, lines, bool(factor.numbers), cells)


def _cell(told: Told, effect: Effect, lines: tuple[str, ...]) -> Cell:
    if effect.change is None:
        return Cell((None,) * len(lines), "", None, effect.why)
    levels = {level.value: level for level in effect.levels}
    dots = tuple(Dot(levels[words].mean, levels[words].half) if words in levels else None for words in lines)
    share = effect.importance
    return Cell(dots, amount_with_unit(told.outcome, effect.change),
                None if share is None else Share(share.share, share.lowest, share.highest))  # fmt: skip
