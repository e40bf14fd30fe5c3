"""A mix that was looked over, on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from sweeper.cli.lines import say
from sweeper.cli.streams import out
from sweeper.delivery.intake.finding import Verdict
from sweeper.delivery.intake.listening import Intake
from sweeper.units import clock

COLOURS = {Verdict.OK: "green", Verdict.LOOK: "yellow", Verdict.STOP: "red"}


def show_intake(found: Intake, console: Console | None = None) -> None:
    """The verdict, what there is to look at with why and what to ask, and what is well. console: None = stdout."""
    console = console or out()
    colour, length = COLOURS[found.verdict], clock(found.file.duration_s)
    console.print(
        f"[{colour}]{found.verdict.value}[/{colour}]  {escape(str(found.file.path))}  {length}", soft_wrap=True
    )
    for one in sorted(found.findings, key=lambda finding: -finding.verdict.weight):
        if one.verdict is Verdict.OK:
            continue
        say(console, f"  {one.verdict.value:4}  {one.title}: {one.what}", COLOURS[one.verdict])
        say(console, f"        {one.why}")
        say(console, f"        ask the mixer {one.ask}")
    well = "; ".join(f"{one.title} {one.what}" for one in found.findings if one.verdict is Verdict.OK)
    say(console, f"  ok    {well}\n")


def data_of(found: Intake) -> dict[str, object]:
    """A file that was looked over, for JSON."""
    return {
        "file": str(found.file.path),
        "verdict": found.verdict.value,
        "duration_s": found.file.duration_s,
        "rate_hz": found.file.format.rate_hz,
        "channels": found.file.format.channels,
        "findings": [finding.as_data() for finding in found.findings],
    }
