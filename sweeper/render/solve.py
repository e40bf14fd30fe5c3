"""Reaches inside a worker: turn the knobs, render, measure, until all have landed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from sweeper.errors import MainMixFailed
from sweeper.plan.conceded import Conceded, ask_others, conceded
from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, distance, slope_at, tell_joint
from sweeper.plan.reach import END_OF_WAY, LOWER_AGAIN, NO_FINER
from sweeper.plan.reach_terms import MOST_PASSES, Ending
from sweeper.quantities import Measurements
from sweeper.render.foresight import Foresight, Rehearsing
from sweeper.render.job import ReachOrder, Solved
from sweeper.render.searches import AnyKnob, excess, joint_of, signs


def solve(orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob], render: Callable[[], Measurements],
          rehearsing: Rehearsing | None = None) -> tuple[Solved, ...]:  # fmt: skip
    """Turn the knobs, one for each order, until the targets are met or out of reach.

    The last render made is the one to keep. render: renders once with the knobs where they stand, and measures. Returns
    how each order ended; its passes are those of all. Where several cannot be met together, one is given up.
    rehearsing: excerpts, which say where to render. Without them a search that a teacher started and that misses is
    made once more from where the chain file has the settings: past the top of a limiter that falls when overdriven
    nothing leads back.
    """
    if any(order.as_taught for order in orders):
        return _as_main(orders, knobs, render)
    homes = tuple(knob.now() for knob in knobs)
    foresight = Foresight(orders, knobs, homes, rehearsing) if rehearsing is not None and rehearsing.left else None
    found = [_searched(orders, knobs, homes, render, foresight)]
    if found[0].missed and foresight is None and any(order.taught for order in orders):
        untaught = [replace(order, taught=None) for order in orders]
        found.append(_searched(untaught, knobs, homes, render))
    best = min(reversed(found), key=lambda f: (f.missed, distance(f.joint, f.landed.chosen)))
    if (left := conceded(best.joint, best.landed)) is not None:
        found.remove(best)
        best = _with_one_given_up(best, left, orders, knobs, render)
        found.append(best)
    passes = sum(len(f.joint.passes) for f in found)
    chosen = best.landed.chosen
    kept = next(n for n, p in enumerate(best.joint.passes) if p is chosen)
    measurements = best.measured[kept]
    for knob, value in zip(knobs, chosen.at, strict=True):
        knob.turn(value)
    if best is not found[-1] or kept != len(best.joint.passes) - 1:
        measurements = render()
        passes += 1
    solved = []
    for n, (order, knob, ended) in enumerate(zip(orders, knobs, best.landed.endings, strict=True)):
        target, (ending, why) = order.goals[0], _as_asked(ended, chosen.excess[n])
        solved.append(Solved(target.key, target.goal, measurements.values[target.key], ending, order.setting,
                             chosen.at[n], knob.unit, passes, why, _slope(order, best.joint, n, chosen),
                             foresight.beyond[n] if foresight else None))  # fmt: skip
    return tuple(solved)


def _as_main(orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob],
             render: Callable[[], Measurements]) -> tuple[Solved, ...]:  # fmt: skip
    """Render once with every setting where the main mix's was solved to. Raises MainMixFailed where that came
    to nothing."""
    if any(order.taught is None for order in orders):
        raise MainMixFailed("its main mix's variant failed, so that there are no settings to render it with",
                            "see why that one failed; `sweeper run RUNFOLDER` tries both again")  # fmt: skip
    places = [knob.turn(order.taught.at) for order, knob in zip(orders, knobs, strict=True) if order.taught]
    measured = render()
    return tuple(Solved(order.goals[0].key, order.goals[0].goal, measured.values[order.goals[0].key], Ending.AS_MAIN,
                        order.setting, at, knob.unit, 1, "")
                 for order, knob, at in zip(orders, knobs, places, strict=True))  # fmt: skip


@dataclass(frozen=True)
class _Searched:
    """A search that is over, with what every pass measured."""

    joint: Joint
    landed: JointLanded
    measured: tuple[Measurements, ...]

    @property
    def missed(self) -> int:
        """How many targets were out of reach."""
        return sum(ending is Ending.OUT_OF_REACH for ending, _ in self.landed.endings)


def _searched(orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob], homes: Sequence[float],
              render: Callable[[], Measurements], foresight: Foresight | None = None) -> _Searched:  # fmt: skip
    """Render until all has landed. foresight: says where, as long as it can."""
    joint, measured = joint_of(orders, knobs, homes), list[Measurements]()
    proposal = foresight.first() if foresight else ask_joint(joint)
    while not isinstance(proposal, JointLanded):
        joint = tell_joint(joint, _made(orders, knobs, proposal, render, measured))
        proposal = ask_joint(joint)
        if foresight:
            foresight.met(joint)
            foreseen = None if _is_met(proposal) or not foresight.can_tell_after(joint) else foresight.after(joint)
            if isinstance(foreseen, JointLanded):
                return _Searched(joint, _as_measured(joint, foreseen), tuple(measured))
            if foreseen is not None and len(joint.passes) < MOST_PASSES:
                proposal = foreseen
            joint = _learnt(joint, foresight)
    return _Searched(joint, proposal, tuple(measured))


def _with_one_given_up(found: _Searched, left: Conceded, orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob],
                       render: Callable[[], Measurements]) -> _Searched:  # fmt: skip
    """Go on without the target that was given up; what was found before is kept where no more are met without it."""
    measured = list(found.measured)
    proposal = ask_others(left)
    while not isinstance(proposal, JointLanded) and len(measured) < MOST_PASSES:
        left = replace(left, joint=tell_joint(left.joint, _made(orders, knobs, proposal, render, measured)))
        proposal = ask_others(left)
    made = replace(found, joint=left.joint, measured=tuple(measured))
    fewer = replace(made, landed=proposal) if isinstance(proposal, JointLanded) else made
    return fewer if fewer.missed < found.missed else made


def _made(orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob], proposal: Sequence[float],
          render: Callable[[], Measurements], measured: list[Measurements]) -> JointPass:  # fmt: skip
    """Turn the knobs and render; what was measured goes behind what was measured before."""
    at = tuple(knob.turn(value) for knob, value in zip(knobs, proposal, strict=True))
    measured.append(render())
    return JointPass(at, tuple(excess(order, measured[-1]) for order in orders))


def _is_met(proposal: tuple[float, ...] | JointLanded) -> bool:
    return isinstance(proposal, JointLanded) and all(ending is Ending.ON_TARGET for ending, _ in proposal.endings)


def _learnt(joint: Joint, foresight: Foresight) -> Joint:
    """The searches with the slopes that excerpts showed; not of a ceiling, which other settings hide in few tries."""
    searches = zip(joint.searches, foresight.slopes(), strict=True)
    return replace(joint, searches=tuple(s if s.ceiling else replace(s, slope=slope or s.slope)
                                         for s, slope in searches))  # fmt: skip


def _as_measured(joint: Joint, foreseen: JointLanded) -> JointLanded:
    """How the searches end at a pass that was foreseen to be the end, by what was measured in it."""
    endings = []
    for search, found, (ending, why) in zip(joint.searches, foreseen.chosen.excess, foreseen.endings, strict=True):
        target, *bounds = search.goals
        broken = next((goal.name for goal, e in zip(bounds, found[1:], strict=True) if e > 0), "")
        if not broken and -target.within <= found[0] <= target.most:
            endings.append((Ending.ON_TARGET, ""))
        elif broken or ending is Ending.ON_TARGET or (ending is not Ending.OUT_OF_REACH and found[0] > target.most):
            endings.append((Ending.OUT_OF_REACH, f"{broken} is broken" if broken else NO_FINER))
        else:
            endings.append((ending, why))
    return JointLanded(foreseen.chosen, tuple(endings))


def _as_asked(ended: tuple[Ending, str], excess: Sequence[float]) -> tuple[Ending, str]:
    """How an order ended: one with `stop at` that keeps its bounds and can go no farther has done what it was asked."""
    ending, why = ended
    kept = len(excess) > 1 and excess[0] < 0 and max(excess[1:]) <= 0
    if ending is Ending.OUT_OF_REACH and kept and (why == LOWER_AGAIN or why.startswith(END_OF_WAY)):
        return Ending.FARTHEST, why
    return ended


def _slope(order: ReachOrder, joint: Joint, number: int, kept: JointPass) -> float | None:
    own = slope_at(joint, number, kept)
    return None if own is None else signs(order)[0] * own
