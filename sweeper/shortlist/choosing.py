"""A run's rows held against limits, ranked, and the best of them picked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweeper.chain.model import Condition, Preference
from sweeper.chain.one_condition import preferences_in, read_condition_texts
from sweeper.errors import RunFolderError
from sweeper.plan.reach_terms import ENDED_EARLIER
from sweeper.quantities import quantity_of
from sweeper.render.folder import RUN_NAME
from sweeper.shortlist.apart import Repeatability
from sweeper.shortlist.choice import Choice, chosen, with_whys
from sweeper.shortlist.contender import contenders
from sweeper.shortlist.distance import spans_of
from sweeper.shortlist.likeness import Likenesses, Nulls
from sweeper.shortlist.remembered import remembered
from sweeper.table.data import row_data
from sweeper.table.row import Row
from sweeper.table.rows import order_warnings, ranked_by
from sweeper.table.written import WrittenRun
from sweeper.units import folded
from sweeper.verdict import fixed_preferences, judge


@dataclass(frozen=True)
class Shortlist:
    """What is worth hearing. rows: each mix by itself, best first.

    limits, prefer: those that were held, the run's own or others. warnings: in words. choice: how they were picked.
    """

    run: WrittenRun
    limits: tuple[str, ...]
    prefer: tuple[Preference, ...]
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]
    choice: Choice

    @property
    def picked(self) -> tuple[str, ...]:
        """Ids of the best that differ, best first; () = not asked."""
        return self.choice.picked

    @property
    def data(self) -> dict[str, object]:
        """What `shortlist --json` prints."""
        return {
            "schema": 1, "run": str(self.run.path), "title": self.run.title, "state": self.run.state,
            "limits": list(self.limits),
            "prefer": [f"{quantity_of(p.key).name} {'highest' if p.highest else 'lowest'}" for p in self.prefer],
            "variants": [row_data(row) for row in self.rows], "picked": list(self.picked),
            "warnings": list(self.warnings), "choice": self.choice.as_data(),
        }  # fmt: skip


def shortlist(run: WrittenRun, limits: Sequence[Condition] | None = None, prefer: Sequence[Preference] | None = None,
              keep: int | None = None, nulls: Nulls | None = None) -> Shortlist:  # fmt: skip
    """The run's rows by other limits and preferences. None: the run's own. keep: how many of each mix to pick.

    Only what is on its targets and inside every limit is picked. nulls: compares sounds that are there; None = what
    nobody compared before is told by settings alone. Raises ChainFileError when the run's own chain file
    cannot be read any more, and RunFolderError for a measurement from inside a stage that no variant has.
    """
    held = tuple(_own_limits(run) if limits is None else limits)
    wishes = tuple(preferences_in(run.chain_text, str(run.path / RUN_NAME)) if prefer is None else prefer)
    held = tuple(replace(one, key=_looked_for(one.key, run.rows)) for one in held)
    wishes = tuple(replace(one, key=_looked_for(one.key, run.rows)) for one in wishes)
    rows = run.rows if limits is None else [_judged(row, held) for row in run.rows]
    ranked = ranked_by(wishes, rows)
    keys = [*(limit.key for limit in held), *(wish.key for wish in wishes)]
    choice = _choice(run, ranked, wishes, keep if wishes else None, nulls)
    ranked = ranked if keep is None else with_whys(ranked, choice)
    warnings = (*_unfinished(run), *_unseen(run.rows, keys), *fixed_preferences(_reached(run), held, wishes),
                *order_warnings(ranked, wishes), *_too_few(ranked, keep), *choice.notes)  # fmt: skip
    return Shortlist(run, tuple(limit.text for limit in held), wishes, tuple(ranked), warnings, choice)


def _choice(run: WrittenRun, ranked: Sequence[Row], prefer: Sequence[Preference], keep: int | None,
            nulls: Nulls | None) -> Choice:  # fmt: skip
    """Picked by what the run remembers of its comparing, and by more of it."""
    known, again = remembered(run.path)
    fitting = contenders(run.path, ranked, run.varied)
    if nulls is None:
        fitting = [replace(one, render=None) for one in fitting]
    spans = spans_of(run.varied.values())
    likenesses = Likenesses(fitting, spans, known, nulls or (lambda orders: []), lambda *_: None)
    return chosen(fitting, prefer, keep, likenesses, Repeatability(again, None))


def _looked_for(key: str, rows: Sequence[Row]) -> str:
    """A measurement's key as the run has it: the case of a stage's name is forgiven."""
    if not quantity_of(key).inside:
        return key
    known = {folded(one): one for row in rows if row.measurements for one in row.measurements.values}
    if known and folded(key) not in known:
        raise RunFolderError(f"no variant of this run was looked into for '{quantity_of(key).name}'",
                             "name it under 'limits' or 'prefer' of the chain file, and run that")  # fmt: skip
    return known.get(folded(key), key)


def _unseen(rows: Sequence[Row], keys: Sequence[str]) -> tuple[str, ...]:
    """That some variants have no such measurement, because only the best were looked into, or of an earlier version."""
    found = []
    for key in dict.fromkeys(keys):
        missing = [row.id for row in rows if row.measurements and key not in row.measurements.values]
        if missing:
            found.append(f"{quantity_of(key).name} was not measured of {', '.join(missing[:5])}"
                         + (f" and {len(missing) - 5} more" if len(missing) > 5 else "")
                         + ": they are not judged by it")  # fmt: skip
    return tuple(found)


def _own_limits(run: WrittenRun) -> tuple[Condition, ...]:
    """Those of all mixes; where mixes have limits of their own, the same measurement may have several."""
    found: dict[str, Condition] = {}
    for mix in dict.fromkeys(row.mix for row in run.rows):
        texts = dict.fromkeys(verdict.limit for row in run.rows if row.mix == mix for verdict in row.verdicts)
        found |= {one.text: one for one in read_condition_texts(list(texts), RUN_NAME, kept=True)}
    return tuple(found.values())


def _reached(run: WrittenRun) -> set[str]:
    """What was solved for and is alike in all variants: not what ended earlier, as asked."""
    solved = [one for row in run.rows for one in row.solved]
    return {one.key for one in solved} - {one.key for one in solved if one.ending in ENDED_EARLIER}


def _judged(row: Row, limits: Sequence[Condition]) -> Row:
    return row if row.measurements is None else replace(row, verdicts=judge(limits, row.measurements))


def _fitting(rows: Sequence[Row]) -> dict[str, list[str]]:
    """Of each mix what fits, best first."""
    return {mix: [row.id for row in rows if row.mix == mix and row.fits] for mix in dict.fromkeys(r.mix for r in rows)}


def _too_few(rows: Sequence[Row], keep: int | None) -> tuple[str, ...]:
    groups = _fitting(rows)
    return tuple(
        f"{f'{mix}: ' if len(groups) > 1 else ''}{keep} were asked for, and only "
        f"{len(ids)} {'is' if len(ids) == 1 else 'are'} on target and inside every limit"
        for mix, ids in groups.items()
        if keep is not None and len(ids) < keep
    )


def _unfinished(run: WrittenRun) -> tuple[str, ...]:
    missing = run.asked - len(run.rows)
    return (f"{missing} of {run.asked} variants are not in this table: the run was stopped",) if missing else ()
