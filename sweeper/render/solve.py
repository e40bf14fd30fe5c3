"""A reach inside a worker: turn the knob, render, measure, until it has landed."""

from __future__ import annotations

from collections.abc import Callable

from sweeper.host.knob import Knob
from sweeper.plan.reach import Goal, Landed, Pass, Search, ask, excess_of, tell
from sweeper.quantities import Measurements
from sweeper.render.job import ReachOrder, Solved


def solve(order: ReachOrder, knob: Knob, render: Callable[[], Measurements]) -> Solved:
    """Turn the knob until the goal is met or out of reach; the last render made is the one to keep.

    render: renders once with the knob where it stands, and measures.
    """
    goals = tuple(Goal(goal.text, goal.within, goal.one_sided) for goal in order.goals)
    search = Search(goals, knob.low, knob.high, knob.now(), order.direction, knob.unit == "dB", steps=knob.steps)
    measured: dict[int, Measurements] = {}
    while not isinstance(proposal := ask(search), Landed):
        at = knob.turn(proposal)
        measurements = render()
        excess = tuple(excess_of(measurements.values, g.key, g.goal, g.sign) for g in order.goals)
        measured[len(search.passes)] = measurements
        search = tell(search, Pass(at, excess))
    passes = len(search.passes)
    kept = next(n for n, p in enumerate(search.passes) if p is proposal.chosen)
    if kept != passes - 1:
        knob.turn(proposal.chosen.at)
        measured[kept] = render()
        passes += 1
    goal = order.goals[0]
    return Solved(goal.key, goal.goal, measured[kept].values[goal.key], proposal.ending, order.setting,
                  proposal.chosen.at, knob.unit, passes, proposal.why)  # fmt: skip
