"""Effects on the terminal: a table of settings and measurements, and what decides each measurement."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from sweeper.cli.lines import say
from sweeper.cli.show_table import HEADINGS
from sweeper.cli.streams import out
from sweeper.table.effects import Effect, Effects, Factor, Told
from sweeper.table.effects.words import (
    amount,
    dominant,
    importance_words,
    no_uncertainty,
    share_words,
    untold,
    within,
)

HOW_TO_READ = ("Each change is the mean over everything else that was varied, ± its 95 % interval. Below it the "
               "importance, with its 95 % range: the setting's share in deciding whether a variant is among the "
               "lowest or the highest third. Acting together: how much of the variation is no sum of such "
               "changes, with several mixes also what is otherwise on each.")  # fmt: skip
ASK_FOR_MORE = "--measure NAME tells others; --json has the mean at every value"
DRAW = "--plot FILE.svg draws it"
#: How wide a column of changes can get, and the first one.
CHANGE_WIDTH, LEAST_FIRST = 18, 24


def show_effects(found: Effects, console: Console | None = None, drawn: bool = False) -> None:
    """Print it. console: None = stdout. drawn: a picture is made as well, so that it need not be offered."""
    console = console or out()
    mixes = f" of {len(found.mixes)} mixes, each taken by itself" if len(found.mixes) > 1 else ""
    settings = f"{len(found.factors)} setting{'s' if len(found.factors) > 1 else ''}"
    say(console, f"{found.run.title}: what {settings} did in {found.variants} variants{mixes}")
    for told in _portions(found.told, console.width):
        console.print()
        console.print(_table(found, told))
    console.print()
    say(console, HOW_TO_READ, "dim")
    console.print()
    for words in [dominant(one) for one in found.told]:
        say(console, words)
    for words in [*within(found), *untold(found), *no_uncertainty(found), *found.remarks, *_left_out(found)]:
        say(console, f"note: {words}")
    say(console, ASK_FOR_MORE if drawn else f"{ASK_FOR_MORE}; {DRAW}", "dim")


def _portions(told: Sequence[Told], width: int) -> list[Sequence[Told]]:
    """As many measurements side by side as there is room for."""
    most = max(1, (width - LEAST_FIRST) // CHANGE_WIDTH)
    return [told[at : at + most] for at in range(0, len(told), most)]


def _table(found: Effects, told: Sequence[Told]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("", overflow="fold")
    for one in told:
        table.add_column(escape(_heading(one)), justify="right", no_wrap=True)
    for number, factor in enumerate(found.factors):
        effects = [one.effects[number] for one in told]
        cells = [_cell(factor, one, effect) for one, effect in zip(told, effects, strict=True)]
        table.add_row(f"{escape(factor.name)}\n[dim]{escape(range_words(factor))}[/dim]", *cells)
    rest = ["-" if one.unexplained is None else share_words(one.unexplained) for one in told]
    table.add_row("[dim]acting together[/dim]", *(f"[dim]{words}[/dim]" for words in rest))
    return table


def _heading(told: Told) -> str:
    """A measurement with its unit; the name of a stage stands above it."""
    stage, _, own = told.outcome.key.partition(".") if told.outcome.solved else told.outcome.key.rpartition(".")
    name = f"{own} {told.outcome.unit}".rstrip() if told.outcome.solved else HEADINGS[own]
    return f"{stage}\n{name}" if stage else name


def range_words(factor: Factor) -> str:
    """-18 dB → -12 dB; of what has no order, how many values there are."""
    return f"{factor.values[0]} → {factor.values[-1]}" if factor.has_order else f"{len(factor.values)} values"


def _cell(factor: Factor, told: Told, effect: Effect) -> str:
    """The change, the importance, and the two values where they are not those beside the setting."""
    if effect.change is None:
        return "-"
    words = escape(amount(told.outcome, effect.change))
    lines = [words if effect.change.stands_out else f"[dim]{words}[/dim]"]
    lines += [f"[dim]{escape(importance_words(effect))}[/dim]"] if effect.importance else []
    if not (effect.change.in_order and factor.has_order):
        lines.append(f"[dim]{escape(_cut(effect.change.start))} → {escape(_cut(effect.change.end))}[/dim]")
    return "\n".join(lines)


def _cut(text: str) -> str:
    return text if len(text) <= 12 else f"{text[:11]}…"


def _left_out(found: Effects) -> list[str]:
    return [f"not shown: {'; '.join(f'{name} {why}' for name, why in found.left_out)}"] if found.left_out else []
