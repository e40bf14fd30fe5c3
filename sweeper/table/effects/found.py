"""The effects of every varied setting on every measurement of a run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweeper.errors import RunFolderError
from sweeper.plan.importance import Dial, Importance, importances
from sweeper.plan.reach import Ending
from sweeper.table.effects.effect import Effect, effects_in
from sweeper.table.effects.factors import Factor, factors_of
from sweeper.table.effects.outcomes import Outcome, all_outcomes, named_outcome, usual_outcomes
from sweeper.table.row import Row
from sweeper.table.written import WrittenRun

#: With fewer variants, importances say little.
FEW = 10


@dataclass(frozen=True)
class Told:
    """A measurement and what the settings do to it. mean: over the variants that have it.

    left_over: variants that the fit does not need, the degrees of freedom of its uncertainties. unexplained: the share
    of the variation that is no sum of single effects; None where no variant is left over to tell it from.
    mixes: of how many mixes the variants are; what a setting does to one and not to another is unexplained too.
    """

    outcome: Outcome
    mean: float
    left_over: int
    spread: float | None
    unexplained: float | None
    effects: tuple[Effect, ...]
    mixes: int = 1

    @property
    def by_size(self) -> list[Effect]:
        """The effects that stand out of their uncertainty, the largest first."""
        known = [one for one in self.effects if one.change is not None and one.change.stands_out]
        return sorted(known, key=lambda one: -abs(one.change.difference if one.change else 0.0))


@dataclass(frozen=True)
class Effects:
    """What the settings of a run do. variants: how many were rendered. fixed: settings with one value in all of them.

    left_out: measurements that are not shown unasked, and why. remarks: in words.
    """

    run: WrittenRun
    variants: int
    mixes: tuple[str, ...]
    factors: tuple[Factor, ...]
    fixed: tuple[str, ...]
    told: tuple[Told, ...]
    left_out: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


def effects(run: WrittenRun, names: Sequence[str] = ()) -> Effects:
    """What the settings of a run do. names: of the measurements to tell, as `measurable` has them; () = the usual ones.

    Raises RunFolderError where there is nothing to tell: nothing rendered, one variant, nothing that differs.
    """
    rows = _rendered(run)
    factors, fixed = factors_of(rows)
    if not factors:
        what = "one variant only was rendered" if len(rows) == 1 else "no setting differs between the variants"
        raise RunFolderError(f"{run.path}: {what}, so that there is no effect to tell",
                             "put what is in doubt under 'vary' of the chain file, and run that")  # fmt: skip
    shown, left_out = usual_outcomes(rows) if not names else (_named(run, names, rows), ())
    if not shown:
        raise RunFolderError(f"{run.path}: nothing that is usually told varies: "
                             + ", ".join(f"{name} {why}" for name, why in left_out),
                             "name another measurement with --measure")  # fmt: skip
    mixes = tuple(dict.fromkeys(row.mix for row in rows))
    groups = [mixes.index(row.mix) for row in rows]
    found = _with_importances([_told(outcome, factors, groups) for outcome in shown], factors, groups)
    return Effects(run, len(rows), mixes, factors, fixed, tuple(found), left_out, _remarks(run, rows))


def measurable(run: WrittenRun) -> tuple[str, ...]:
    """The names of what can be asked for: every measurement of the run's variants, and the solved settings."""
    return tuple(outcome.name for outcome in all_outcomes(_rendered(run)) if outcome.known)


def _rendered(run: WrittenRun) -> list[Row]:
    """What is told of: every variant that was rendered; where variants were tried on excerpts, all by these."""
    rows = [row for row in run.rows if row.done and row.measurements is not None]
    if any(row.on_excerpts is not None for row in run.rows):
        rows = [replace(row, measurements=row.on_excerpts.measurements, solved=row.on_excerpts.solved)
                for row in run.rows if row.on_excerpts is not None]  # fmt: skip
    if not rows:
        raise RunFolderError(f"{run.path}: every variant failed, so that there is no effect to tell",
                             f"`sweeper shortlist {run.path}` says why")  # fmt: skip
    return rows


def _named(run: WrittenRun, names: Sequence[str], rows: Sequence[Row]) -> tuple[Outcome, ...]:
    known = all_outcomes(rows)
    found = []
    for name in names:
        outcome = named_outcome(name, known)
        if outcome is None or not outcome.known:
            raise RunFolderError(f"{run.path}: no variant has a value of '{name}'",
                                 "name it under 'limits' or 'prefer' of the chain file, and run that")  # fmt: skip
        found.append(outcome)
    return tuple({outcome.key: outcome for outcome in found}.values())


def _told(outcome: Outcome, factors: Sequence[Factor], groups: Sequence[int]) -> Told:
    rows = [at for at, value in enumerate(outcome.values) if value is not None]
    values = np.array(outcome.known, dtype=np.float64)
    fit, found = effects_in(values, [factor.among(rows) for factor in factors], [groups[row] for row in rows])
    mixes = len({groups[row] for row in rows})
    return Told(outcome, float(values.mean()), fit.left_over, fit.spread, fit.unexplained, found, mixes)


def _with_importances(told: Sequence[Told], factors: Sequence[Factor], groups: Sequence[int]) -> list[Told]:
    """The same with importances; of several mixes within each, as if all had one mean."""
    dials = {factor.name: _dial(factor) for factor in factors}
    chosen = [{factor.name: _place(factor, at) for factor in factors if (at := factor.chosen[row]) is not None}
              for row in range(len(groups))]  # fmt: skip
    measured = {one.outcome.key: _apart(one.outcome, groups) for one in told if one.outcome.varies}
    found = importances(dials, chosen, measured)
    return [replace(one, effects=_joined(one.effects, found.get(one.outcome.key, {}))) for one in told]


def _joined(found: Sequence[Effect], shares: dict[str, Importance]) -> tuple[Effect, ...]:
    return tuple(replace(one, importance=shares.get(one.setting)) for one in found)


def _dial(factor: Factor) -> Dial:
    return Dial(0, factor.numbers[0], factor.numbers[-1]) if factor.trend else Dial(len(factor.values))


def _place(factor: Factor, at: int) -> float:
    return factor.numbers[at] if factor.trend else float(at)


def _apart(outcome: Outcome, groups: Sequence[int]) -> list[float]:
    values = np.array([np.nan if value is None else value for value in outcome.values], dtype=np.float64)
    for group in set(groups):
        own = np.asarray(groups) == group
        there = own & np.isfinite(values)
        if there.any():
            values[there] -= values[there].mean()
    return [float(value) for value in values.round(9)]


def _remarks(run: WrittenRun, rows: Sequence[Row]) -> tuple[str, ...]:
    failed, missing = sum(row.failed for row in run.rows), run.asked - len(run.rows)
    missed = sum(any(one.ending is not Ending.ON_TARGET for one in row.solved) for row in rows)
    found = [f"{missing} of {run.asked} variants are not in this table: the run was stopped"] if missing else []
    found += [f"{failed} of {len(run.rows)} variants failed and are left out"] if failed else []
    found += [f"{missed} of {len(rows)} variants are not where the reach was to land: what differs there in loudness "
              "or peak shows in the effects"] if missed else []  # fmt: skip
    if any(row.on_excerpts is not None for row in run.rows):
        found.append("told by what the variants came to on excerpts, all of them, those that were rendered too")
    if len(rows) < FEW:
        found.append(f"{len(rows)} variants are few: importances say little")
    return tuple(found)
