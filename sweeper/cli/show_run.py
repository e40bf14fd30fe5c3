"""A finished run on the terminal: the table, what it means, and where the files are."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path

from rich.markup import escape
from rich.table import Table

from sweeper.cli.streams import out
from sweeper.plan.reach import Ending
from sweeper.quantities import BY_KEY, Measurements
from sweeper.render.job import Solved
from sweeper.render.orders import Measured
from sweeper.table.outcome import Run
from sweeper.table.row import Row

#: Measurements on the terminal, most useful first; as many as fit. The rest are in table.csv.
SHOWN = ("loudness_lufs", "true_peak_dbtp", "crest_db", "loudness_range_lu", "short_term_max_lufs",
         "plr_db", "correlation", "mono_loss_lu", "overs")  # fmt: skip
HEADINGS = {"loudness_lufs": "LUFS", "true_peak_dbtp": "dBTP", "crest_db": "crest dB", "loudness_range_lu": "range LU",
            "short_term_max_lufs": "3 s max", "plr_db": "PLR dB", "correlation": "corr", "mono_loss_lu": "mono LU",
            "overs": "overs"}  # fmt: skip


def show_run(run: Run) -> None:
    """Print the table and what follows from it."""
    console = out()
    several = len(run.chain.mixes) > 1
    for column_count in range(len(SHOWN), 1, -1):
        table = _table(run, SHOWN[:column_count], several)
        if console.measure(table, options=console.options.update(max_width=1000)).maximum <= console.width:
            break
    console.print(table)
    for line in _remarks(run):
        console.print(line, soft_wrap=True)
    console.print(f"\nfiles: {escape(shown_path(run.folder))}  (table.csv holds every measurement)", soft_wrap=True)
    if any("matched" in row.files for row in run.rows):
        words = "those of one mix are equally loud" if several else "all equally loud"
        console.print(f"listen to variants/*/matched.wav: {words}. Start at a low level.", soft_wrap=True)


def _table(run: Run, keys: Sequence[str], several: bool) -> Table:
    settings = list(dict.fromkeys(name for row in run.rows for name in row.settings))
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("", no_wrap=True)
    if several:
        table.add_column("mix", overflow="ellipsis", no_wrap=True, max_width=18)
    for name in settings:
        table.add_column(escape(_heading(name)), justify="right", no_wrap=True)
    for key in keys:
        table.add_column(HEADINGS[key], justify="right", no_wrap=True)
    if run.chain.limits:
        table.add_column("limits", no_wrap=True)
    table.add_column("match dB", justify="right", no_wrap=True)
    for row in run.rows:
        table.add_row(*_cells(run, row, settings, keys, several))
    blanks = [""] * len(settings)
    for label, files in (("mix", run.mixes), ("reference", run.references)):
        for number, file in enumerate(files):
            table.add_row(*_file_cells(run, label, file, number, blanks, keys, several), style="dim")
    return table


def _heading(name: str) -> str:
    """stage.setting on two lines, so that columns stay narrow."""
    stage, _, setting = name.partition(".")
    return f"{stage}\n{setting}"


def _cells(run: Run, row: Row, settings: Sequence[str], keys: Sequence[str], several: bool) -> list[str]:
    name = row.id if row.rank is None else f"{row.rank}. {row.id}"
    cells = [name, *([escape(Path(row.mix).stem)] if several else [])]
    cells += [escape(row.settings.get(setting, "")) for setting in settings]
    if not row.done:
        cells += ["[red]failed[/red]", *[""] * (len(keys) - 1)]
        return cells + ([""] if run.chain.limits else []) + [""]
    assert row.measurements is not None
    cells += [_number(row.measurements, key, _tint(row) if key == "loudness_lufs" else str) for key in keys]
    if run.chain.limits:
        cells.append(_limits(row))
    return [*cells, _gain(row.match_gain_db)]


def _file_cells(run: Run, label: str, file: Measured, number: int, blanks: list[str], keys: Sequence[str],
                several: bool) -> list[str]:  # fmt: skip
    cells = [label, *([escape(file.file.path.stem)] if several else []), *blanks]
    cells += [_number(file.measurements, key, str) for key in keys]
    gains = run.data["mixes"] if label == "mix" else []
    assert isinstance(gains, list)
    gain = gains[number]["match_gain_db"] if label == "mix" else None
    return cells + ([""] if run.chain.limits else []) + [_gain(gain) if label == "mix" else ""]


def ending_words(solved: Solved) -> str:
    """How a reach that did not land on its target ended, in words."""
    place = f"{solved.setting} {solved.at:g} {solved.unit}".strip()
    if solved.ending is Ending.STOPPED:
        return f"stopped as asked at {place}: {solved.why}"
    return f"is out of reach: closest at {place}; what stopped it: {solved.why}"


def _tint(row: Row) -> Callable[[str], str]:
    missed = row.solved is not None and row.solved.ending is Ending.OUT_OF_REACH
    return (lambda text: f"[yellow]{text}[/yellow]") if missed else str


def _number(measurements: Measurements, key: str, tint: Callable[[str], str]) -> str:
    value = measurements.values[key]
    return "-" if value is None else tint(f"{value:.{BY_KEY[key].decimals}f}")


def _gain(gain_db: float | None) -> str:
    return "" if gain_db is None else f"{gain_db + 0.0:+.2f}"


def _limits(row: Row) -> str:
    broken = [verdict for verdict in row.verdicts if verdict.met is False]
    if broken:
        return f"[red]{len(broken)} broken[/red]"
    return "met" if all(verdict.met for verdict in row.verdicts) else "not judged"


def _remarks(run: Run) -> list[str]:
    remarks = [""]
    for row in run.rows:
        if not row.done:
            remarks.append(f"[red]{row.id} failed:[/red] {escape(row.cause)}")
        if row.solved is not None and row.solved.ending is not Ending.ON_TARGET:
            remarks.append(escape(f"{row.id} {ending_words(row.solved)}"))
        remarks += [f"{row.id} breaks {escape(v.limit)} by {-v.margin:.2f}" for v in row.verdicts
                    if v.met is False and v.margin is not None]  # fmt: skip
        remarks += [f"{row.id}: {escape(note)}" for note in row.notes]
    remarks += [f"[red]{escape(trouble)}[/red]" for trouble in run.trouble]
    remarks += [f"note: {escape(warning)}" for warning in run.warnings]
    if run.chain.prefer:
        wishes = ", ".join(f"{BY_KEY[p.key].name} {'highest' if p.highest else 'lowest'}" for p in run.chain.prefer)
        remarks.append(f"ranked by {wishes}, those inside every limit first")
    elif len(run.rows) > 1:
        remarks.append("not ranked: use your ears")
    return remarks if len(remarks) > 1 else []


def shown_path(path: Path) -> str:
    """The path as short as it can be said from here."""
    try:
        return os.path.relpath(path)
    except ValueError:  # another drive on Windows
        return str(path)
