"""A master made again, on the terminal: first what has changed since, then whether it came back, and where not."""

from __future__ import annotations

from collections.abc import Iterator

from rich.markup import escape

from sweeper.audio.null import Null
from sweeper.cli.lines import columns, say
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.errors import RecallMismatch
from sweeper.recall.again import Recalled
from sweeper.recall.differences import Difference
from sweeper.recall.find import Found
from sweeper.recall.since import Since
from sweeper.recall.stagewise import Behind, first_other
from sweeper.recall.verdict import Verdict
from sweeper.units import clock


def show_since(found: Found, since: Since) -> None:
    """Which master it is, what is as it was then, and what has changed. Told before anything is rendered."""
    sheet = found.sheet
    when = f", made {sheet.created.replace('T', ' ')[:16]}" if sheet.created else ""
    say(out(), f"variant {sheet.variant} of {sheet.title}{when}: {shown_path(found.place)}")
    if found.how:
        say(out(), f"known again: {found.how}")
    for each in since.same:
        say(out(), f"as it was: {each}")
    _show_changed(since.changed)
    out().print()


def _show_changed(changed: tuple[Difference, ...]) -> None:
    if not changed:
        say(out(), "since then: nothing has changed that the sheet records")
        return
    table = columns("changed since", "then", "now")
    for one in changed:
        table.add_row(escape(one.what), escape(one.then), escape(one.now))
    out().print(table)


def show_recall(made: Recalled, told: Since) -> None:
    """Whether it is the same, at which stage it is not, and where the new file is. told: what was shown before."""
    console = out()
    name = escape(f"variant {made.then.variant} of {made.then.title}")
    head = {
        Verdict.IDENTICAL: f"[green]identical[/green]: {name} comes out as it was, sample for sample",
        Verdict.AS_CLOSE_AS_IT_REPEATS: f"[green]as close as it repeats[/green]: {name}: {escape(by_how_much(made))}",
        Verdict.DIFFERS: f"[red]differs[/red]: {name}: {escape(by_how_much(made))}",
    }
    console.print(head[made.verdict], soft_wrap=True)
    if made.old is not None:
        console.print(f"held against {escape(shown_path(made.old))}", soft_wrap=True)
    elif made.identical:
        console.print("the old file is not there: held against the hash of its samples in the sheet", soft_wrap=True)
    for line in _where(made):
        say(console, line)
    if not made.identical and any(stage.same is not None for stage in made.stages):
        _show_stages(made)
    late = tuple(one for one in made.differences if one not in told.changed)
    if late:
        _show_changed(late)
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
              f"first at {clock(null.first_s or 0.0)}",
              f"largest at {clock(null.at_s)}{_channel(made, null)}"]  # fmt: skip
    return ", ".join(words)


def mismatch(made: Recalled) -> RecallMismatch:
    """The error that ends the command when the master is not the same."""
    changed = "see above what has changed since" if made.differences else "nothing that the sheet records has changed"
    other, _ = first_other(made.stages)
    at = f", first at {other.name}" if other else ""
    return RecallMismatch(
        f"variant {made.then.variant} of {made.then.title} does not come out as it was{at}: {by_how_much(made)}",
        f"{changed}; both files are kept, listen to the new one before it is used",
    )


def _where(made: Recalled) -> Iterator[str]:
    """At which stage it first is another sound, and how well it repeats now."""
    if made.identical:
        return
    other, sure = first_other(made.stages)
    if other is not None:
        before = "what comes to it is what came to it then" if sure else "or at a stage before it that has no marks"
        yield f"first at {other.name}: {before}; {_from(other)}"
    elif made.stages and any(stage.same is None for stage in made.stages):
        suspects = _suspects(made)
        yield ("the sheet is of a version that did not mark what every stage gave: the stage cannot be told"
               + (f"; changed since is {suspects}" if suspects else ""))  # fmt: skip
    floor = made.floor
    if floor is None:
        return
    if floor.peak_dbfs is None:
        yield "rendered twice now it is the same to the last bit: it is no matter of chance"
    else:
        stage = f"; {floor.stage} does not repeat itself" if floor.stage else ""
        yield f"two renders of now differ by {floor.peak_dbfs:.1f} dBFS: nothing closer can be had{stage}"


def _suspects(made: Recalled) -> str:
    """The stages of which something recorded has changed."""
    names = dict.fromkeys(stage.name for stage in made.stages for one in made.differences
                          if one.what.startswith(stage.name))  # fmt: skip
    return " and ".join(names)


def _from(stage: Behind) -> str:
    if stage.from_s is None or stage.to_s is None:
        return "what it gives is not"
    if stage.null is not None and stage.null.first_s is not None:
        return f"what it gives is not, from {clock(stage.null.first_s)} on"
    return f"what it gives is not, from somewhere between {clock(stage.from_s)} and {clock(stage.to_s)} on"


def _show_stages(made: Recalled) -> None:
    table = columns("stage by stage", "what it gives", "null test leaves")
    for stage in made.stages:
        words = {True: "as then", False: "another sound", None: "not known"}[stage.same]
        table.add_row(escape(stage.name), words, _left(stage))
    out().print(table)


def _left(stage: Behind) -> str:
    if stage.same is not False:
        return "nothing" if stage.same else "-"
    if stage.null is None:
        return "its old sound is gone"
    peak = stage.null.peak_dbfs
    return "nothing where both have sound" if peak is None else f"a peak of {peak:.1f} dBFS"


def _channel(made: Recalled, null: Null) -> str:
    if made.now.source.channels != 2 or null.channel is None:
        return ""
    return f" on the {('left', 'right')[null.channel]}"


def short_verdict(made: Recalled) -> str:
    """The verdict in a cell."""
    if made.verdict is Verdict.IDENTICAL:
        return "identical"
    peak = made.null.peak_dbfs if made.null else None
    head = "as it repeats" if made.verdict.came_back else "differs"
    return f"{head}, {peak:.1f} dBFS" if peak is not None else head
