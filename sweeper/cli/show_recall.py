"""A master made again, on the terminal."""

from __future__ import annotations

from rich.markup import escape

from sweeper.audio.null import Null
from sweeper.cli.lines import columns
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.errors import RecallMismatch
from sweeper.recall.again import Recalled
from sweeper.units import clock


def show_recall(made: Recalled) -> None:
    """Whether it is the same, what has changed since, and where the new file is."""
    console = out()
    name = f"variant {made.then.variant} of {made.then.title}"
    if made.identical:
        console.print(f"[green]identical[/green]: {escape(name)} comes out as it was, sample for sample",
                      soft_wrap=True)  # fmt: skip
    else:
        console.print(f"[red]differs[/red]: {escape(name)}: {escape(by_how_much(made))}", soft_wrap=True)
    if made.old is not None:
        console.print(f"held against {escape(shown_path(made.old))}", soft_wrap=True)
    elif made.identical:
        console.print("the old file is not there: held against the hash of its samples in the sheet", soft_wrap=True)
    _show_differences(made)
    for note in made.notes:
        console.print(f"note: {escape(note)}", soft_wrap=True)
    console.print(f"\nfile: {escape(shown_path(made.render))}", soft_wrap=True)


def by_how_much(made: Recalled) -> str:
    """What the null test left, in words."""
    if made.null is None:
        return "the old file is not there to say by how much"
    null = made.null
    words = [] if null.frames[0] == null.frames[1] else [f"{null.frames[1]} frames then, {null.frames[0]} now"]
    if null.peak_dbfs is None or null.rms_dbfs is None or null.at_s is None:
        return ", ".join([*words, "the same where both have sound"])
    words += [f"the null test leaves a peak of {null.peak_dbfs:.1f} dBFS, RMS {null.rms_dbfs:.1f} dBFS",
              f"largest at {clock(null.at_s)}{_channel(made, null)}"]  # fmt: skip
    return ", ".join(words)


def mismatch(made: Recalled) -> RecallMismatch:
    """The error that ends the command when the master is not the same."""
    changed = "see above what has changed since" if made.differences else "nothing that the sheet records has changed"
    return RecallMismatch(
        f"variant {made.then.variant} of {made.then.title} does not come out as it was: {by_how_much(made)}",
        f"{changed}; both files are kept, listen to the new one before it is used",
    )


def _channel(made: Recalled, null: Null) -> str:
    if made.now.source.channels != 2 or null.channel is None:
        return ""
    return f" on the {('left', 'right')[null.channel]}"


def _show_differences(made: Recalled) -> None:
    if not made.differences:
        out().print("since then: nothing has changed that the sheet records", soft_wrap=True)
        return
    table = columns("changed since", "then", "now")
    for one in made.differences:
        table.add_row(escape(one.what), escape(one.then), escape(one.now))
    out().print(table)
