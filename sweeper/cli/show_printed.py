"""Printed files, and the specs to print to, on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape

from sweeper.chain.print_model import PrintSpec
from sweeper.cli.lines import columns, say
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.delivery.delivering import Delivery
from sweeper.delivery.outcome import Print
from sweeper.delivery.remarks import remarks


def show_printed(delivery: Delivery, console: Console | None = None) -> None:
    """What was measured in each file, what to know of it, and where everything is. console: None = stdout."""
    console = console or out()
    table = columns("file", "format", "length", "gain dB", "LUFS", "dBTP", right=(2, 3, 4, 5))
    for one in delivery.prints:
        table.add_row(*_cells(one))
    console.print(table)
    for one in delivery.prints:
        for remark in remarks(one):
            say(console, f"{one.printed.target.name}: {remark}")
    places = delivery.places
    console.print(
        f"\nfiles: {escape(shown_path(places.folder))}  ({places.checksums.name} to check them by)", soft_wrap=True
    )
    console.print(f"how they were made: {escape(shown_path(places.manifest))}  (stays here)", soft_wrap=True)


def _cells(one: Print) -> tuple[str, ...]:
    printed, spec = one.printed, one.order.spec
    rate = f"{printed.format.rate_hz / 1000:g} kHz"
    word = spec.word.text if spec.word else f"{printed.coded.kbps if printed.coded else 0:.0f} kbit/s"
    dither = f", {spec.dither}" if spec.dither != "none" else ""
    loudness, peak = printed.measurements["loudness_lufs"], printed.measurements["true_peak_dbtp"]
    return (
        escape(printed.target.name),
        f"{spec.format} {word} {rate}{dither}",
        f"{printed.frames / printed.format.rate_hz:.3f} s",
        f"{one.order.gain_db:.2f}",
        "-" if loudness is None else f"{loudness:.2f}",
        "-" if peak is None else f"{peak:.2f}",
    )


def show_specs(specs: Sequence[PrintSpec], console: Console | None = None) -> None:
    """Every spec that comes along."""
    console = console or out()
    table = columns("spec", "format", "rate", "word", "dither", "what it is")
    for spec in specs:
        word = spec.word.text if spec.word else f"{spec.kbps:g} kbit/s" if spec.kbps else f"quality {spec.quality:g}"
        rate = "the mix's" if spec.rate_hz is None else f"{spec.rate_hz / 1000:g} kHz"
        table.add_row(spec.name, spec.format, rate, word, spec.dither, escape(spec.about))
    console.print(table)
    say(console, "A spec of your own is a file like those in configs/prints: --to MINE.yaml")
