"""The list of delivery targets and playback documents, on the terminal and as data."""

from __future__ import annotations

from rich.console import Console

from sweeper.cli.lines import say
from sweeper.targets import TARGETS, Kind, Target

#: What each kind is for.
KINDS = {
    Kind.DELIVERY: "for --against, and for 'limits' and 'reach' of a chain file",
    Kind.PLAYBACK: "what players turn files to; shown by --playback, never a target",
}


def show_targets(console: Console) -> None:
    """Every target with its numbers, its document and how they are known."""
    for kind, words in KINDS.items():
        say(console, f"{kind.value.capitalize()}: {words}", "bold")
        for target in TARGETS:
            if target.kind is kind:
                say(console, f"  {target.id}  {_numbers(target)}")
                say(console, f"      {target.document}, {target.edition}, {target.date}: {target.applies_to}")
                say(console, f"      {target.status.value}: {target.source}", "dim")
                for note in target.notes:
                    say(console, f"      {note}", "dim")


def targets_data() -> list[dict[str, object]]:
    """Every target as data."""
    return [
        {
            "id": target.id, "kind": target.kind.value, "document": target.document, "edition": target.edition,
            "date": target.date, "applies_to": target.applies_to, "loudness_lufs": target.loudness_lufs,
            "below_lu": target.below_lu, "above_lu": target.above_lu,
            "true_peak_max_dbtp": target.true_peak_max_dbtp, "short_term_max_lufs": target.short_term_max_lufs,
            "status": target.status.value, "source": target.source, "notes": list(target.notes),
        }
        for target in TARGETS
    ]  # fmt: skip


def _numbers(target: Target) -> str:
    below, above = target.below_lu, target.above_lu
    if below is not None and below == above:
        tolerance = f" ±{below:g} LU"
    else:
        tolerance = "".join(f" {sign}{side:g} LU" for sign, side in (("-", below), ("+", above)) if side is not None)
    text = f"{target.loudness_lufs:g} LUFS{tolerance}"
    if target.true_peak_max_dbtp is not None:
        text += f", true peak at most {target.true_peak_max_dbtp:g} dBTP"
    if target.short_term_max_lufs is not None:
        text += f", short-term max at most {target.short_term_max_lufs:g} LUFS"
    return text
