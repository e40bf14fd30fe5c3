"""Holding measurements against limits, ranking what is inside them, and matching levels."""

from sweeper.verdict.level import Leveled, match_gains_db
from sweeper.verdict.limits import Verdict, judge
from sweeper.verdict.order import fixed_preferences, hardly_differ, nearly_fixed
from sweeper.verdict.rank import Candidate, Place, merits, ranked

__all__ = ["Candidate", "Leveled", "Place", "Verdict", "fixed_preferences", "hardly_differ", "judge",
           "match_gains_db", "merits", "nearly_fixed", "ranked"]  # fmt: skip
