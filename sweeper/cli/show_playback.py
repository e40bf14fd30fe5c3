"""Files in normalised playback, on the terminal and as data."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from sweeper.cli.lines import columns, say
from sweeper.render.orders import Measured
from sweeper.targets import LEVELS, Played, Sound, played

CAUTION = (
    "levels and ceilings are the documents' (sweeper measure --against list). Services differ and change; that a gain "
    "up ends at the ceiling, and that some turn nothing up: common practice, no source."
)


def show_playback(found: Sequence[Measured], console: Console) -> None:
    """The gain of each playback level for each file, and what comes out."""
    sounds = [_sound(file) for file in found]
    turned = [played(level, sounds) for level in LEVELS]
    for at, file in enumerate(found):
        say(console, f"\n{file.file.path.name} in normalised playback", "bold")
        if sounds[at].loudness_lufs is None:
            say(console, f"no loudness to go by: {file.measurements.reasons.get('loudness_lufs', 'not measured')}")
            continue
        table = columns("level LUFS", "gain dB", "true peak dBTP", "", right=(0, 1, 2))
        for level, results in zip(LEVELS, turned, strict=True):
            outcome = results[at]
            words = f"{level.target.document}: {level.use}" + _played_words(outcome, level.ceiling_dbtp)
            table.add_row(f"{level.loudness_lufs:g}", _signed(outcome.gain_db), _signed(outcome.true_peak_dbtp), words)
        console.print(table)
    say(console, CAUTION, "dim")


def playback_data(found: Sequence[Measured]) -> list[list[dict[str, object]]]:
    """For each file what comes of it at each playback level, as data."""
    sounds = [_sound(file) for file in found]
    turned = [played(level, sounds) for level in LEVELS]
    return [
        [
            {
                "level_lufs": level.loudness_lufs, "target": level.target.id, "document": level.target.document,
                "use": level.use, "album": level.album, "ceiling_dbtp": level.ceiling_dbtp,
                "gain_db": results[at].gain_db, "loudness_lufs": results[at].loudness_lufs,
                "true_peak_dbtp": results[at].true_peak_dbtp, "held_back_db": results[at].held_back_db,
                "over_ceiling": results[at].over_ceiling,
            }
            for level, results in zip(LEVELS, turned, strict=True)
        ]
        for at in range(len(found))
    ]  # fmt: skip


def _sound(file: Measured) -> Sound:
    return Sound(file.measurements["loudness_lufs"], file.measurements["true_peak_dbtp"])


def _signed(value: float | None) -> str:
    return "-" if value is None else f"{value + 0.0:+.2f}"


def _played_words(outcome: Played, ceiling_dbtp: float | None) -> str:
    back = outcome.held_back_db or 0.0
    held = f"; [yellow]stays {back:.2f} dB under, held by its peak[/yellow]" if back >= 0.005 else ""
    return held + (f"; [red]true peak above {ceiling_dbtp:g} dBTP[/red]" if outcome.over_ceiling else "")
