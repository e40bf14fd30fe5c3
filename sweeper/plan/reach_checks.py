"""What about a reach can be seen to be wrong before anything is rendered, once handles are known."""

from __future__ import annotations

from sweeper.chain.model import Chain
from sweeper.errors import Problem
from sweeper.plan.names import BYPASS, setting_of
from sweeper.units import folded


def unsolvable(chain: Chain) -> list[Problem]:
    """A problem for each reach whose stage may be bypassed, or whose sides stand at different values."""
    problems = []
    for reach in chain.reach:
        stage = next(s for s in chain.stages if s.name == reach.by.stage)
        if any(axis.ref.stage == stage.name and axis.ref.setting == BYPASS for axis in chain.vary):
            problems.append(Problem(
                str(chain.path), reach.mark.line, reach.mark.column,
                f"'{reach.by}' is solved, but 'vary' bypasses '{stage.name}': bypassed, nothing turns the loudness",
                "take the bypass out of 'vary', or solve another stage",
            ))  # fmt: skip
        own = [a for a in stage.settings if folded(a.name) == folded(setting_of(stage, reach.by)) and a.side]
        if not reach.by.side and len({a.value for a in own}) > 1:
            sides = " or ".join(f"'{stage.name}.{side}.{setting_of(stage, reach.by)}'" for side in stage.channels.sides)
            problems.append(Problem(
                str(chain.path), reach.mark.line, reach.mark.column,
                f"'{reach.by}' stands at different values on its sides, and one number is solved for all",
                f"set them alike, or solve {sides}",
            ))  # fmt: skip
    return problems
