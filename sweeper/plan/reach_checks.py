"""What about a reach can be seen to be wrong before anything is rendered, once handles are known."""

from __future__ import annotations

from sweeper.chain.model import Chain, Reach, Stage
from sweeper.errors import Problem
from sweeper.plan.names import BYPASS, setting_of
from sweeper.quantities import quantity_of
from sweeper.units import folded


def unsolvable(chain: Chain) -> list[Problem]:
    """A problem for each reach whose stage may be bypassed or left out, or whose sides stand at different values."""
    problems = []
    for reach in chain.reach:
        stage = next(s for s in chain.stages if s.name == reach.by.stage)
        for what, remedy in (*_unheard(chain, reach), *_unseen(chain, reach), *_uneven(stage, reach)):
            problems.append(Problem(str(chain.path), reach.mark.line, reach.mark.column, what, remedy))
    return problems


def _unheard(chain: Chain, reach: Reach) -> list[tuple[str, str]]:
    """The variants in which the solved stage is not heard."""
    stage, turned = reach.by.stage, quantity_of(reach.key).name
    found = []
    bus = next(one.bus for one in chain.stages if one.name == stage)
    for silenced in dict.fromkeys(name for name in (stage, bus) if name):
        if any(axis.ref.stage == silenced and axis.ref.setting == BYPASS for axis in chain.vary):
            what = f"'{reach.by}' is solved, but 'vary' bypasses '{silenced}': bypassed, nothing turns the {turned}"
            found.append((what, "take the bypass out of 'vary', or solve another stage"))
    if any(stage in order for order in chain.sequence) and any(stage not in order for order in chain.sequence):
        found.append((f"'{reach.by}' is solved, but 'sequence' leaves '{stage}' out: then nothing turns the {turned}",
                      f"name '{stage}' in every order, or solve another stage"))  # fmt: skip
    return found


def _unseen(chain: Chain, reach: Reach) -> list[tuple[str, str]]:
    """The measured stages that some variant does not hear: there is nothing to solve for then."""
    found = []
    for key in dict.fromkeys((reach.key, *(bound.key for bound in reach.stop_at))):
        stage, _, _ = key.rpartition(".")
        own = next((one for one in chain.stages if one.name == stage), None)
        if own is None or stage == reach.by.stage:
            continue
        bypassed = own.bypass or any(axis.ref.stage in (stage, own.bus) and axis.ref.setting == BYPASS
                                     for axis in chain.vary)  # fmt: skip
        left_out = any(stage in order for order in chain.sequence) and any(stage not in o for o in chain.sequence)
        if bypassed or left_out:
            found.append((f"{quantity_of(key).name} is solved for, but '{stage}' is "
                          f"{'bypassed' if bypassed else 'left out'} in some variants", "name a stage that is always "
                          "heard, or put it under 'limits'"))  # fmt: skip
    return found


def _uneven(stage: Stage, reach: Reach) -> list[tuple[str, str]]:
    """The alternatives in which one number cannot be solved for all sides."""
    found = []
    for choice in stage.choices:
        setting = setting_of(choice, reach.by)
        own = [a for a in choice.settings if folded(a.name) == folded(setting) and a.side]
        if not reach.by.side and len({a.value for a in own}) > 1:
            sides = " or ".join(f"'{stage.name}.{side}.{setting}'" for side in choice.channels.sides)
            found.append((f"'{reach.by}' stands at different values on its sides, and one number is solved for all",
                          f"set them alike, or solve {sides}"))  # fmt: skip
    return found
