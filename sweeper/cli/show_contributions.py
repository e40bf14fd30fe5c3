"""What each stage of a chain does, on the terminal: after it, where it stands, and for the whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from sweeper.cli.lines import columns, say
from sweeper.cli.remarks import ending_words
from sweeper.cli.show_table import HEADINGS
from sweeper.cli.streams import out
from sweeper.plan.reach import Ending
from sweeper.quantities import quantity_of
from sweeper.table.contributions import Contributions, Moved, PartTold
from sweeper.table.row import solved_text

#: Columns, most useful first; as many as fit. All are in --json.
SHOWN = ("true_peak_dbtp", "crest_db", "crest_loud_db", "psr_db", "loudness_range_lu", "tilt_db", "side_mid_db",
         "correlation", "mono_loss_lu", "balance_db")  # fmt: skip
LEAST_SHOWN = 2
LOUDNESS, PEAK, MIX_NAME = "loudness_lufs", "true_peak_dbtp", "mix"
Cells = Callable[[PartTold, str], str]


def show_contributions(found: Contributions, console: Console | None = None) -> None:
    """Print everything that was found. console: None = stdout."""
    console = console or out()
    settings = ", ".join(f"{name} {value}" for name, value in found.variant.varied.items())
    mix = found.chain.mixes[found.variant.mix].written
    say(console, f"variant {found.variant.id}{f' ({settings})' if settings else ''} of {mix}")
    shown = _fitting(console, found)
    over = f" over {', '.join(found.chain.match_over)}" if found.chain.match_over else ""
    say(console, "\nthe sound after each stage, as it stands")
    console.print(_table(found.behind, (LOUDNESS, *shown), _as_it_stands))
    say(console, f"\nwhat each stage changes there, against the sound before it at equal loudness{over}; gain: how "
        "much louder it makes it")  # fmt: skip
    console.print(_table(found.behind[1:], ("", *shown), _changed))
    again = ", solved again" if found.chain.reach else ""
    say(console, f"\nwhat each stage contributes to the whole: the full chain against the chain without it{again}, "
        f"at equal loudness{over}; gain: how much louder the full chain was before that")  # fmt: skip
    console.print(_table(found.without, ("", *shown), _changed))
    if any(part.moved for part in found.without):
        say(console, "\nwhere what is solved stands, and where it goes without a stage")
        console.print(_moved_table(found))
        say(console, f"it lands within {_tolerances(found)}: a smaller difference in loudness or peaks may be no more "
            "than that")  # fmt: skip
    remarks = list(_remarks(found))
    for line in ["", *remarks] if remarks else []:
        console.print(line, soft_wrap=True)


def _fitting(console: Console, found: Contributions) -> tuple[str, ...]:
    """As many measurements as fit in the widest of the tables."""
    shown: tuple[str, ...] = SHOWN
    wide = console.options.update(max_width=1000)
    while len(shown) > LEAST_SHOWN:
        tables = [_table(found.behind, (LOUDNESS, *shown), _as_it_stands),
                  *(_table(parts, ("", *shown), _changed) for parts in (found.behind[1:], found.without))]  # fmt: skip
        if all(console.measure(table, options=wide).maximum <= console.width for table in tables):
            break
        shown = shown[:-1]
    return shown


def _table(parts: Sequence[PartTold], keys: Sequence[str], cells: Cells) -> Table:
    """A line a part. keys: of the measurements; "" = the gain, which only changes have."""
    plain = cells is _as_it_stands
    headings = [HEADINGS[key] if plain or key not in ("", PEAK) else "peak dB" if key else "gain LU" for key in keys]
    table = columns("", *headings, right=tuple(range(1, len(keys) + 1)))
    for part in parts:
        name = escape(_name(part))
        if part.measured is None:
            table.add_row(name, "[red]failed[/red]")
        else:
            table.add_row(name, *(cells(part, key) for key in keys))
    return table


def _name(part: PartTold) -> str:
    return f"{part.name} (bus)" if part.is_bus else part.name or MIX_NAME


def _as_it_stands(part: PartTold, key: str) -> str:
    value = part.measured[key] if part.measured else None
    return "-" if value is None else f"{round(value, quantity_of(key).decimals) + 0.0:.{quantity_of(key).decimals}f}"


def _changed(part: PartTold, key: str) -> str:
    if part.change is None:
        return "-"
    return _signed(part.change.values[key] if key else part.change.gain_db, quantity_of(key or LOUDNESS).decimals)


def _signed(value: float | None, decimals: int) -> str:
    if value is None:
        return "-"
    rounded = round(value, decimals)
    return f"{rounded:+.{decimals}f}" if rounded else f"{0:.{decimals}f}"


def _moved_table(found: Contributions) -> Table:
    """A line a part, a column for everything that is solved."""
    settings = [solved.setting for solved in found.full.solved]
    table = columns("", *map(escape, settings), right=tuple(range(1, len(settings) + 1)))
    table.add_row("full chain", *(solved_text(solved) for solved in found.full.solved))
    for part in found.without:
        by_setting = {moved.full.setting: moved for moved in part.moved}
        cells = []
        for setting in settings:
            moved = by_setting.get(setting)
            cells.append("-" if moved is None else f"{solved_text(moved.without)} ({_how_far(moved)})")
        table.add_row(f"without {escape(_name(part))}", *cells)
    return table


def _how_far(moved: Moved) -> str:
    """+1.20, or why the way there would say nothing."""
    ended = {one.ending for one in (moved.full, moved.without)}
    told = (Ending.OUT_OF_REACH, Ending.FARTHEST, Ending.STOPPED)
    return next((ending.value for ending in told if ending in ended), _signed(moved.by, 2))


def _tolerances(found: Contributions) -> str:
    """0.1 LU and 0.1 dB"""
    each = dict.fromkeys(f"{reach.within:g} {quantity_of(reach.key).difference_unit}".strip()
                         for reach in found.chain.reach)  # fmt: skip
    return " and ".join(each)


def _remarks(found: Contributions) -> Iterator[str]:
    """What failed, what could not be solved, and notes; as markup."""
    for part in found.behind:
        if part.measured is None:
            yield f"[red]after {escape(_name(part))}: failed:[/red] {escape(part.cause)}"
    for solved in found.full.solved:
        if solved.ending is not Ending.ON_TARGET:
            yield escape(f"the full chain: {ending_words(solved)}")
    for part in found.without:
        yield from _part_remarks(part)
    for note in found.full.notes:
        yield f"note: {escape(note)}"
    for warning in found.warnings:
        yield f"note: {escape(warning)}"


def _part_remarks(part: PartTold) -> Iterator[str]:
    head = f"without {escape(part.name)}"
    if part.measured is None:
        yield f"[red]{head}: failed:[/red] {escape(part.cause)}"
        return
    if part.dropped:
        names = " and ".join(quantity_of(key).name for key in part.dropped)
        yield f"{head}: nothing solves {escape(names)}; the comparison is matched by gain alone"
    for moved in part.moved:
        if moved.without.ending is not Ending.ON_TARGET:
            yield f"{head}: {escape(ending_words(moved.without))}"
    for note in part.notes:
        yield f"{head}: {escape(note)}"
