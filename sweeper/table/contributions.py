"""What each stage of one variant does: changes from one measured sound to another, once both are equally loud."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sweeper.chain.model import Chain
from sweeper.meter.thirds import NOMINAL_HZ
from sweeper.plan.sections import match_name
from sweeper.plan.taken_apart import FULL, MIX, TakenApart, Without
from sweeper.plan.variants import Variant
from sweeper.quantities import OF_FILES, Measurements
from sweeper.render.job import Rendered, Solved
from sweeper.render.taking_apart import Apart
from sweeper.table.row import Row
from sweeper.table.rows import cause_of
from sweeper.workers import Failed

#: Units of what goes up and down with the gain.
LEVEL_UNITS = frozenset({"LUFS", "dBTP", "dBFS"})
#: What depends on where full scale is: nothing that a gain could make comparable.
AT_FULL_SCALE = frozenset({"overs", "over_runs", "longest_over_ms"})
COMPARED = tuple(quantity for quantity in OF_FILES if quantity.key not in AT_FULL_SCALE)


@dataclass(frozen=True)
class Change:
    """What one sound has more than another. gain_db: how much louder it is; None = one of them is silent.

    values: each measurement's difference at equal loudness, None where there is none. thirds_db: the same of each third
    of an octave from 20 Hz to 20 kHz.
    """

    gain_db: float | None
    values: Mapping[str, float | None]
    thirds_db: tuple[float | None, ...]

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        thirds = [{"hz": hz, "difference_db": value} for hz, value in zip(NOMINAL_HZ, self.thirds_db, strict=False)]
        return {"gain_db": self.gain_db, "changes": dict(self.values), "thirds_db": thirds}


def change(before: Measurements, after: Measurements, match_over: Sequence[str] = ()) -> Change:
    """What `after` has more than `before`, turned by the gain that makes it as loud over the sections named, or whole.

    Levels less that gain; what a gain leaves alone (crest, loudness range, correlation ...) as it is. A sound and the
    same 6 dB louder, its peak clipped off by 1 dB: gain_db 6, true peak -1 dB, plr -1 dB.
    """
    one, other = (_loudness_lufs(measured, match_over) for measured in (before, after))
    gain_db = None if one is None or other is None else other - one
    values = {q.key: _difference(before[q.key], after[q.key], gain_db if q.unit in LEVEL_UNITS else 0.0)
              for q in COMPARED}  # fmt: skip
    thirds = zip(before.thirds_dbfs, after.thirds_dbfs, strict=False)
    return Change(gain_db, values, tuple(_difference(*pair, gain_db) for pair in thirds))


def _difference(before: float | None, after: float | None, gain_db: float | None) -> float | None:
    return None if before is None or after is None or gain_db is None else after - before - gain_db


def _loudness_lufs(measured: Measurements, match_over: Sequence[str]) -> float | None:
    return measured.sections.get(match_name(match_over), measured)["loudness_lufs"]


@dataclass(frozen=True)
class Moved:
    """Where a solved setting stands in the full chain, and where it goes without a part of it."""

    full: Solved
    without: Solved

    @property
    def by(self) -> float:
        """How far it goes, in its unit."""
        return self.without.at - self.full.at

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        return {"setting": self.full.setting, "unit": self.full.unit, "full": self.full.at, "without": self.without.at,
                "moved": self.by, "reach": self.without.as_data()}  # fmt: skip


@dataclass(frozen=True)
class PartTold:
    """What a stage changes where it stands, or contributes to the whole.

    name: "" = the mix itself. measured: the sound behind it, or the chain's without it; None = that failed, and why.
    change: None where there is nothing to hold it against. dropped: what could not be solved without it.
    """

    name: str
    measured: Measurements | None
    cause: str = ""
    change: Change | None = None
    is_bus: bool = False
    dropped: tuple[str, ...] = ()
    moved: tuple[Moved, ...] = ()
    notes: tuple[str, ...] = ()

    def as_data(self) -> dict[str, object]:
        """For JSON, but for what only the parts left out have."""
        data: dict[str, object] = {
            "stage": self.name or None, "status": "failed" if self.measured is None else "done",
            "cause": self.cause or None, "measurements": self.measured.as_data() if self.measured else None,
        }  # fmt: skip
        return {**data, **(self.change or Change(None, {}, ())).as_data()}


@dataclass(frozen=True)
class Contributions:
    """What each stage of one variant does. behind: the mix, then the sound behind every step. without: every part."""

    chain: Chain
    variant: Variant
    full: Rendered
    behind: tuple[PartTold, ...]
    without: tuple[PartTold, ...]
    warnings: tuple[str, ...]
    work: Mapping[str, object]

    @property
    def failed(self) -> bool:
        """Something could not be told."""
        return any(part.measured is None for part in (*self.behind, *self.without))

    def as_data(self) -> dict[str, object]:
        """What `contributions --json` prints."""
        return {
            "schema": 1, "title": self.chain.title, "chain_file": str(self.chain.path.absolute()),
            "variant": self.variant.id, "mix": self.chain.mixes[self.variant.mix].written,
            "settings": dict(self.variant.varied), "matched_over": list(self.chain.match_over),
            "full": {"measurements": self.full.measurements.as_data(), "passes": self.full.passes,
                     "reach": [solved.as_data() for solved in self.full.solved], "notes": list(self.full.notes)},
            "behind": [part.as_data() for part in self.behind],
            "without": [_without_data(part) for part in self.without],
            "warnings": list(self.warnings), "work": dict(self.work),
        }  # fmt: skip


def _without_data(part: PartTold) -> dict[str, object]:
    return {**part.as_data(), "bus": part.is_bus, "solved": [moved.as_data() for moved in part.moved],
            "dropped": list(part.dropped), "notes": list(part.notes)}  # fmt: skip


def contributions_of(chain: Chain, variant: Variant, mix: Measurements, taken: TakenApart, apart: Apart,
                     warnings: Sequence[str]) -> Contributions:  # fmt: skip
    """Everything that was measured of a variant taken apart, told stage by stage. mix: its own measurements."""
    tally = apart.tally
    work = {"steps_done": tally.steps, "steps_unshared": tally.unshared, "passes": tally.passes,
            "plugin_s": round(tally.plugin_s, 3)}  # fmt: skip
    without = tuple(_without(chain, taken, part, mix, apart) for part in taken.without)
    return Contributions(chain, variant, apart.full, tuple(_behind(chain, mix, taken, apart)), without,
                         tuple(warnings), work)  # fmt: skip


def _behind(chain: Chain, mix: Measurements, taken: TakenApart, apart: Apart) -> list[PartTold]:
    tapped = iter(apart.full.behind)
    told = [PartTold("", mix)]
    for place in taken.behind:
        name, before = " + ".join(place.names), told[-1].measured
        outcome = next(tapped) if place.id is None else apart.outcomes[place.id]
        if isinstance(outcome, Failed):
            told.append(PartTold(name, None, cause_of(outcome)))
            continue
        after = outcome.measurements if isinstance(outcome, Rendered) else outcome
        told.append(PartTold(name, after, change=change(before, after, chain.match_over) if before else None))
    return told


def _without(chain: Chain, taken: TakenApart, part: Without, mix: Measurements, apart: Apart) -> PartTold:
    if part.id == MIX:
        changed = change(mix, apart.full.measurements, chain.match_over)
        return PartTold(part.name, mix, "", changed, part.is_bus, part.dropped)
    outcome = apart.outcomes[part.id]
    if isinstance(outcome, Failed):
        return PartTold(part.name, None, cause_of(outcome), None, part.is_bus, part.dropped)
    full = {reach.by: solved for reach, solved in zip(chain.reach, apart.full.solved, strict=True)}
    solved = zip(taken.reaches[part.id], outcome.solved, strict=True)
    moved = tuple(Moved(full[reach.by], one) for reach, one in solved)
    notes = tuple(note for note in outcome.notes if note not in apart.full.notes)
    changed = change(outcome.measurements, apart.full.measurements, chain.match_over)
    return PartTold(part.name, outcome.measurements, "", changed, part.is_bus, part.dropped, moved, notes)


def part_row(chain: Chain, variant: Variant, taken: TakenApart, id: str, outcome: Rendered | Failed) -> Row:
    """What came of one variant as a row that says which it is, to be told while the others are rendered."""
    mix, words = chain.mixes[variant.mix].written, f"{variant.id} {_called(taken, id)}"
    if isinstance(outcome, Failed):
        return Row(words, mix, "failed", cause_of(outcome), {})
    return Row(words, mix, "done", "", {}, outcome.measurements, solved=outcome.solved, passes=outcome.passes)


def _called(taken: TakenApart, id: str) -> str:
    without = next((f"without {part.name}" for part in taken.without if part.id == id), "as it is")
    return next((f"up to {' + '.join(p.names)}" for p in taken.behind if p.id == id != FULL), without)
