"""One row of the table: a variant with everything that came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sweeper.quantities import Measurements
from sweeper.render.inside import NOT_HEARD
from sweeper.render.job import Solved
from sweeper.verdict import Verdict

#: What a mono file does not have: a limit on it cannot be broken there. Any other limit has to be judged to be met.
OF_TWO = frozenset({"correlation", "correlation_worst", "side_mid_db", "balance_db", "mono_loss_lu"})
#: Units of which a hundredth is more than anybody turns by: shown to four decimals, all others to two.
COARSE_UNITS = frozenset({"", "s", "kHz"})


@dataclass(frozen=True)
class OnExcerpts:
    """What a variant came to when it was tried on excerpts of its mix. excerpts: what was played of it, in mixes."""

    measurements: Measurements
    verdicts: tuple[Verdict, ...]
    solved: tuple[Solved, ...]
    excerpts: float

    @property
    def fits(self) -> bool:
        """It was on its targets and inside every limit, as far as excerpts tell."""
        return _fits(self.solved, self.verdicts)


@dataclass(frozen=True)
class Row:
    """A variant's row.

    status: "done", "failed", or "tried": on excerpts only, and not rendered. cause: why it failed, else "". settings:
    what some mix has of its own, as this one has it, then what `vary` chose, by reference, then the solved settings
    where they landed, rounded. solved: how each reach ended, in full. files: name -> path inside the run folder. rank:
    None where nothing ranks it. match_gain_db: the gain that makes it as loud as the others. kept: its sound files are
    there. looked_into: every stage of it was, as it is among the best. front: of several preferences, 1 = the trade-off
    front; None = there is none. why: why its sound was kept, or whose near-duplicate it is, in words; "" where nothing
    was chosen. fits: on every target, inside every limit. on_excerpts: what it came to there; None = it was not tried
    so. own: names of those settings that some mix has of its own.
    """

    id: str
    mix: str
    status: str
    cause: str
    settings: Mapping[str, str]
    measurements: Measurements | None = None
    verdicts: tuple[Verdict, ...] = ()
    solved: tuple[Solved, ...] = ()
    match_gain_db: float | None = None
    rank: int | None = None
    notes: tuple[str, ...] = ()
    passes: int = 0
    plugin_s: float = 0.0
    files: Mapping[str, str] = field(default_factory=dict)
    kept: bool = True
    looked_into: bool = False
    front: int | None = None
    why: str = ""
    on_excerpts: OnExcerpts | None = None
    excerpts: float = 0.0
    own: tuple[str, ...] = ()

    @property
    def done(self) -> bool:
        """It was rendered."""
        return self.status == "done"

    @property
    def failed(self) -> bool:
        """It came to nothing."""
        return self.status == "failed"

    @property
    def tried_only(self) -> bool:
        """It was tried on excerpts and not rendered."""
        return self.status == "tried"

    @property
    def solved_as(self) -> Mapping[str, Solved]:
        """What was solved, under the names that `settings` has for it: they stand behind what `vary` chose."""
        names = list(self.settings)[len(self.settings) - len(self.solved) :]
        return dict(zip(names, self.solved, strict=True))

    @property
    def fits(self) -> bool:
        """It was rendered, is on its targets, and breaks no limit."""
        return self.done and _fits(self.solved, self.verdicts)


def _fits(solved: Sequence[Solved], verdicts: Sequence[Verdict]) -> bool:
    on_target = not any(one.missed for one in solved)
    return on_target and all(verdict.met or has_none(verdict) for verdict in verdicts)


def has_none(verdict: Verdict) -> bool:
    """Whether there is nothing that could break the limit: a mono file's sides, a stage that is not heard."""
    return verdict.met is None and (verdict.key in OF_TWO or verdict.reason in NOT_HEARD)


def solved_text(solved: Solved) -> str:
    """Where a solved setting stands, rounded for people: "-7.25 dB"; the full number is `solved.at`."""
    digits = f"{solved.at:.{4 if solved.unit in COARSE_UNITS else 2}f}".rstrip("0").rstrip(".")
    return f"{'0' if digits == '-0' else digits} {solved.unit}".strip()
