"""Files held against delivery targets, on the terminal and as data."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape

from sweeper.cli.lines import columns, say
from sweeper.quantities import BY_KEY
from sweeper.render.orders import Measured
from sweeper.targets import Held, Target, gain_to_target_db, held


def all_met(found: Sequence[Measured], targets: Sequence[Target]) -> bool:
    """Whether every file meets every requirement; what cannot be judged is not met."""
    return all(one.met is True for file in found for target in targets for one in held(target, file.measurements))


def show_against(found: Sequence[Measured], targets: Sequence[Target], console: Console) -> None:
    """Each requirement of each target for each file: met, or missed by how much, and what gain would help."""
    for target in targets:
        say(console, f"\n{target.id}: {target.document}, {target.edition}, {target.applies_to}", "bold")
        table = columns("", "asked", "measured", "", right=(1, 2))
        for file in found:
            for one in held(target, file.measurements):
                name = BY_KEY[one.requirement.key].name
                label = f"{file.file.path.name}: {name}" if len(found) > 1 else name
                table.add_row(escape(label), one.requirement.words, _measured(one), _styled(one))
        console.print(table)
        for file in found:
            words = _gain_words(file, target)
            if words:
                say(console, f"{file.file.path.name}: {words}" if len(found) > 1 else words)


def against_data(file: Measured, targets: Sequence[Target]) -> list[dict[str, object]]:
    """A file against each target, as data. outside: as in `sweeper.targets.Held`."""
    return [
        {
            "target": target.id, "met": all_met([file], [target]),
            "gain_to_target_db": gain_to_target_db(target, file.measurements),
            "requirements": [
                {
                    "measurement": one.requirement.key, "lowest": one.requirement.lowest,
                    "highest": one.requirement.highest, "value": one.value, "met": one.met, "outside": one.outside,
                    "reason": one.reason,
                }
                for one in held(target, file.measurements)
            ],
        }
        for target in targets
    ]  # fmt: skip


def _measured(one: Held) -> str:
    quantity = BY_KEY[one.requirement.key]
    return "-" if one.value is None else f"{one.value + 0.0:.2f} {quantity.unit}"


def _styled(one: Held) -> str:
    if one.met:
        return "met"
    if one.outside is None:
        return f"[yellow]not judged: {escape(one.reason)}[/yellow]"
    amount = f"{abs(one.outside):.2f}"
    amount = amount if float(amount) else "less than 0.01"
    side = "too high" if one.outside > 0 else "too low"
    return f"[red]missed by {amount} {BY_KEY[one.requirement.key].difference_unit}, {side}[/red]"


def _gain_words(file: Measured, target: Target) -> str:
    """What gain puts the loudness on the goal, and where the true peak is then; "" where the loudness is met."""
    loudness, ceiling = held(target, file.measurements)[0], target.true_peak_max_dbtp
    gain, peak = gain_to_target_db(target, file.measurements), file.measurements["true_peak_dbtp"]
    if loudness.met or gain is None or peak is None:
        return ""
    goal = f"{target.loudness_lufs:g} LUFS"
    words = f"a gain of {gain:+.2f} dB puts it on {goal}, its true peak on {peak + gain:.2f} dBTP"
    return f"{words}: gain alone will not do" if ceiling is not None and peak + gain > ceiling else words
