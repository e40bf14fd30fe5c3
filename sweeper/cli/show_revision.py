"""A client's revision, on the terminal: what was turned, what moved with it, and what did not."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from sweeper.cli.lines import columns, say
from sweeper.cli.remarks import ending_words
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.plan.reach import Ending
from sweeper.quantities import OF_FILES, Quantity
from sweeper.recall.revise import Revised
from sweeper.units import clock


def on_target(made: Revised) -> bool:
    """Whether the change was landed on."""
    return made.solved.ending is Ending.ON_TARGET


def show_revision(made: Revised, console: Console | None = None) -> None:
    """Print what was changed and everything that moved. console: None = stdout."""
    console = console or out()
    name = f"variant {made.then.variant} of {made.then.title}"
    back = "without it, it comes back as it was" if made.came_back else (
        "without it, it does NOT come back as it was: what moved is not by the change alone; see `sweeper recall`")
    say(console, f"{name}, {made.now.change}: {back}", "" if made.came_back else "red")
    say(console, f"{made.setting}: {made.was} → {made.stands}")
    if not on_target(made):
        say(console, ending_words(made.solved), "red")
    table = columns("what moved", "before", "after", "by", "equally loud, by", right=(1, 2, 3, 4))
    still = []
    for quantity in OF_FILES:
        before, after = made.before[quantity.key], made.after[quantity.key]
        if before is None or after is None:
            continue
        if round(after - before, quantity.decimals):
            table.add_row(escape(quantity.name), *_cells(made, quantity, before, after))
        else:
            still.append(quantity.name)
    console.print(table)
    if still:
        say(console, f"as it was: {', '.join(still)}")
    if made.null is not None:
        say(console, _null(made))
    for words in made.passed:
        say(console, f"mind: {words}", "yellow")
    for note in made.notes:
        say(console, f"note: {note}")
    console.print(f"\nfile: {escape(shown_path(made.render))}", soft_wrap=True)


def _cells(made: Revised, quantity: Quantity, before: float, after: float) -> tuple[str, str, str, str]:
    """Before, after and by how much, as it stands and equally loud."""
    by, matched = after - before, made.moved.values.get(quantity.key)
    at_one_level = None if quantity.key == "loudness_lufs" else matched
    return (f"{before:.{quantity.decimals}f} {quantity.unit}".strip(), f"{after:.{quantity.decimals}f}",
            _signed(by, quantity), _signed(at_one_level, quantity))  # fmt: skip


def _signed(value: float | None, quantity: Quantity) -> str:
    if value is None:
        return "-"
    rounded = round(value, quantity.decimals)
    text = f"{rounded:+.{quantity.decimals}f}" if rounded else f"{0:.{quantity.decimals}f}"
    return f"{text} {quantity.difference_unit}".strip()


def _null(made: Revised) -> str:
    null = made.null
    assert null is not None
    if null.null_db is None:
        return "equally loud, the two are the same: nothing but the level has changed"
    return (f"equally loud, a null test of the two leaves {null.null_db:.0f} dB in the 3 s where it leaves most, from "
            f"{clock(null.at_s)} on")  # fmt: skip
