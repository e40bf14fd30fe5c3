"""A finished run on the terminal: the table, what it means, and where the files are."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sweeper.chain.own_chain import each_chain
from sweeper.cli.remarks import order_remark, row_remarks, wishes
from sweeper.cli.show_choice import choice_remarks, front_remark
from sweeper.cli.show_inside import show_inside
from sweeper.cli.show_table import print_table, shown
from sweeper.cli.streams import out
from sweeper.cli.table_cells import Beside

if TYPE_CHECKING:
    from sweeper.table.outcome import Run


def show_run(run: Run, console: Console | None = None) -> None:
    """Print the table and what follows from it. console: None = stdout."""
    console = console or out()
    limited = [limit.key for one in each_chain(run.chain) for limit in one.limits]
    wanted = list(dict.fromkeys([*(wish.key for wish in run.chain.prefer), *limited]))
    rendered = tuple(row for row in run.rows if not row.tried_only)
    print_table(console, shown(rendered, _beside(run), wanted, margins=False))
    show_inside(console, run.rows)
    remarks = _remarks(run)
    for line in ["", *remarks] if remarks else []:
        console.print(line, soft_wrap=True)
    console.print(f"\nfiles: {escape(shown_path(run.folder))}  (table.csv holds every measurement)", soft_wrap=True)
    if any("matched" in row.files for row in run.rows):
        words = "those of one mix are equally loud" if len(run.chain.mixes) > 1 else "all equally loud"
        console.print(f"listen to variants/*/matched.wav: {words}. Start at a low level.", soft_wrap=True)


def _beside(run: Run) -> list[Beside]:
    gains = run.data["mixes"]
    assert isinstance(gains, Sequence)
    mixes = [Beside("mix", str(mix.file.path), mix.measurements, gain["match_gain_db"])
             for mix, gain in zip(run.mixes, gains, strict=True)]  # fmt: skip
    return mixes + [Beside("reference", str(file.file.path), file.measurements) for file in run.references]


def _remarks(run: Run) -> list[str]:
    remarks = row_remarks(run.rows)
    remarks += [f"[red]{escape(trouble)}[/red]" for trouble in run.trouble]
    remarks += [escape(words) for words in run.explored]
    remarks += [f"note: {escape(warning)}" for warning in run.warnings]
    if any(row.failed for row in run.rows):
        remarks.append(f"`sweeper run {escape(shown_path(run.folder))}` tries the failed ones again, and only those")
    order = order_remark(run.chain.prefer, len(run.rows)) + front_remark(run.rows)
    return remarks + order + _kept(run) + _reused(run)


def _reused(run: Run) -> list[str]:
    """What sharing spared; nothing where that is little."""
    work = run.data["work"]
    assert isinstance(work, Mapping)
    done, unshared, found = (int(str(work[key])) for key in ("steps_done", "steps_unshared", "steps_in_store"))
    if unshared <= done:
        return []
    words = f"{unshared - done} of {unshared} steps were shared or there already"
    return [words + (f", {found} of them in the store before" if found else "")]


def _kept(run: Run) -> list[str]:
    """Whose sound was kept, and why; and who sounds the same."""
    choice = run.data["choice"]
    assert isinstance(choice, Mapping)
    kept = [row.id for row in run.rows if row.done and row.kept]
    lines = choice_remarks(run.rows, choice, kept, "kept")
    if run.chain.keep is None:
        return lines
    each = " of each mix" if len(run.chain.mixes) > 1 else ""
    words = f"the best {run.chain.keep}{each} that differ, by {wishes(run.chain.prefer)}"
    told = f"kept: {', '.join(kept) or 'none'} ({words}); the others have rows and recall sheets, no sound files"
    return [told, *lines]


def shown_path(path: Path) -> str:
    """The path as short as it can be said from here."""
    try:
        return os.path.relpath(path)
    except ValueError:  # another drive on Windows
        return str(path)
