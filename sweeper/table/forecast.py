"""What a run of a chain file would take: variants, steps, passes, time, disk."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sweeper.chain.model import Chain, Stage
from sweeper.chain.own_chain import each_chain
from sweeper.meter.passage import MOST_S
from sweeper.plan.examine import Examined
from sweeper.plan.looks import keys_each_pass, keys_once
from sweeper.plan.method import Method
from sweeper.plan.planned import Plan
from sweeper.plan.reach_terms import MOST_PASSES
from sweeper.plan.rehearsed import is_rehearsed
from sweeper.plan.schedule import Schedule
from sweeper.plan.work import STEP_TASK, nearest, path_to, step_task
from sweeper.render.costs import Speeds
from sweeper.render.disk import Need
from sweeper.render.finalists import MOST_FINALISTS
from sweeper.render.looks import every_look, look_s, looks_for
from sweeper.render.orders import Measured
from sweeper.table.trial_words import Shown, repeats_data, stage_words, stages_data, trial_warnings
from sweeper.units import clock

#: Passes that a variant's reaches take in the median, by trial on real tracks: one that nobody taught, one that was
#: taught; how many more with a third setting, by trial on models; and at worst, when the closest is made again.
UNTAUGHT_PASSES, TAUGHT_PASSES, THIRD_PASSES, WORST_PASSES = 3, 2, 1, MOST_PASSES + 1
#: How many fewer passes they take where excerpts are played before, and what these take, in passes, with one, two and
#: three settings, and at worst; by trial too.
FEWER_PASSES, EXCERPTS, MOST_EXCERPTS = 1, (0.3, 0.6, 1.0), 2.0


@dataclass(frozen=True)
class Checked:
    """A checked chain. stages, warnings, estimate: in words. data: what `check --json` prints."""

    stages: tuple[str, ...]
    warnings: tuple[str, ...]
    estimate: tuple[str, ...]
    data: dict[str, object]


def checked(chain: Chain, examined: Examined, plan: Plan, mixes: Sequence[Measured], tried: Speeds, disk: Need,
            warnings: Sequence[str], workers: int, shown: Shown | None = None,
            method: Method | None = None) -> Checked:  # fmt: skip
    """Put together what is known before a run. shown: what trials showed of the stages; None = none were made.

    method: how it explores, the plan being of as many variants as there may be; None = it renders every combination.
    """
    shown = shown or Shown()
    warnings = (*warnings, *trial_warnings(chain, examined, shown))
    rehearsed = [is_rehearsed(chain, mix.file.duration_s) for mix in mixes]
    median, worst = _passes(plan, False, rehearsed), _passes(plan, True, rehearsed)
    steps = tuple(_steps(plan, passes) for passes in (median, worst))
    looks_s = _looks_s(chain, plan, mixes, tried)
    last_s = _finalists_s(chain, plan, mixes, tried) / workers
    of_each = [_with_excerpts(plan, passes, rehearsed, each) for passes, each in (
        (median, EXCERPTS), (worst, (MOST_EXCERPTS,) * len(EXCERPTS)))]  # fmt: skip
    times_s = tuple(wall_s(plan, passes, mixes, tried, workers, looks_s) + last_s for passes in of_each)
    count = plan.count
    data: dict[str, object] = {
        "schema": 1, "variants": len(plan.variants), "stages": stages_data(chain, examined, shown),
        "steps": count.predicted, "steps_median": steps[0], "steps_worst": steps[1],
        "steps_unshared": _unshared(plan, median), "steps_in_store": count.found,
        "passes_median": sum(median.values()), "passes_worst": sum(worst.values()),
        "estimated_s_median": round(times_s[0], 1), "estimated_s_worst": round(times_s[1], 1),
        "disk_bytes": disk.results + disk.store, "results_bytes": disk.results, "store_bytes": disk.store,
        "workers": workers, "warnings": list(warnings),
    }  # fmt: skip
    if shown.repeated:
        data["repeats"] = repeats_data(shown.repeated.whole)
    words = _in_words(plan, steps, median, sum(worst.values()), times_s, disk, workers)
    if method is not None:
        data["explore"] = {"method": method.way.value, "why": method.why}
        words = [f"at most {words[0]}", *words[1:], f"explored by {method}"]
    return Checked(tuple(_stage_words(chain, examined, shown)), tuple(warnings), tuple(words), data)


def _passes(plan: Plan, worst: bool, rehearsed: Sequence[bool]) -> dict[str, int]:
    """Full renders of each variant. rehearsed: for which mixes excerpts are played before."""
    found = {}
    for id, path in plan.tree.paths.items():
        usual = TAUGHT_PASSES if plan.teachers.get(id) else UNTAUGHT_PASSES
        usual -= FEWER_PASSES * rehearsed[path.mix]
        usual += THIRD_PASSES * (len(plan.variants[id].turns) > 2)
        found[id] = 1 if not path.own or plan.variants[id].main is not None else WORST_PASSES if worst else usual
    return found


def _with_excerpts(plan: Plan, passes: Mapping[str, int], rehearsed: Sequence[bool],
                   each: Sequence[float]) -> dict[str, float]:  # fmt: skip
    """The same with what excerpts take, by the number of settings that are solved."""
    return {id: passes[id] + each[len(plan.variants[id].turns) - 1] * (
        path.own and plan.variants[id].main is None and rehearsed[path.mix]) for id, path in plan.tree.paths.items()}


def _steps(plan: Plan, passes: dict[str, int]) -> int:
    """Steps of the whole run when each variant takes so many passes."""
    once = plan.count.single
    for id, path in plan.tree.paths.items():
        once += (passes[id] - 1) * (path.length - nearest(path.steps, plan.storing.starts))
    return once


def _unshared(plan: Plan, passes: dict[str, int]) -> int:
    """The same with every variant rendered whole from its mix."""
    return sum(path.length * passes[id] for id, path in plan.tree.paths.items())


def _looks_s(chain: Chain, plan: Plan, mixes: Sequence[Measured], tried: Speeds) -> dict[str, tuple[float, float]]:
    """Seconds that looking into each variant takes: after every pass, and once more at the end."""
    each_pass, of_mixes = keys_each_pass(chain), [keys_once(one) for one in each_chain(chain)]
    found = {}
    for id, variant in plan.variants.items():
        once = of_mixes[variant.mix]
        speed, passage_s = tried.stages[variant.mix], min(MOST_S, mixes[variant.mix].file.duration_s)
        of_pass, of_all = (looks_for(variant.stages, keys, {})[0] for keys in (each_pass, once))
        left = [look for look in of_all if look.stage not in {one.stage for one in of_pass}]
        of_pass_s, left_s = (passage_s * look_s(variant.stages, looks, speed) for looks in (of_pass, left))
        found[id] = of_pass_s, left_s
    return found


def _finalists_s(chain: Chain, plan: Plan, mixes: Sequence[Measured], tried: Speeds) -> float:
    """Seconds that looking into the best takes, each as dear as the mean variant."""
    if not chain.prefer or not plan.variants:
        return 0.0
    each_s = []
    for variant in plan.variants.values():
        passage_s = min(MOST_S, mixes[variant.mix].file.duration_s)
        looks = every_look(variant.stages, {})
        each_s.append(passage_s * look_s(variant.stages, looks, tried.stages[variant.mix]))
    best = min(len(each_s), (chain.keep or MOST_FINALISTS) * len(mixes), MOST_FINALISTS * len(mixes))
    return best * sum(each_s) / len(each_s)


def wall_s(plan: Plan, passes: Mapping[str, float], mixes: Sequence[Measured], tried: Speeds, workers: int,
           looks_s: Mapping[str, tuple[float, float]]) -> float:  # fmt: skip
    """How long the tasks take, handed out as a run does. looks_s: of each variant, after every pass and at the end."""
    schedule = Schedule(plan.needs)
    keys = {step_task(key): key for key in plan.tree.steps}
    under_way: list[tuple[float, str]] = []
    now_s = 0.0
    while True:
        while len(under_way) < workers and (task := schedule.take()) is not None:
            lasts_s = _step_s(plan, keys[task], mixes, tried) if task.startswith(STEP_TASK) else (
                _variant_s(plan, task, passes[task], mixes, tried)
                + passes[task] * looks_s[task][0] + looks_s[task][1])  # fmt: skip
            heapq.heappush(under_way, (now_s + lasts_s, task))
        if not under_way:
            return now_s
        now_s, task = heapq.heappop(under_way)
        schedule.done(task)


def _step_s(plan: Plan, key: str, mixes: Sequence[Measured], tried: Speeds) -> float:
    way = path_to(plan.tree, key)
    start = nearest(way[:-1], plan.storing.starts)
    mix = plan.tree.steps[key].mix
    speed = sum(tried.stages[mix].get(setup, 0.0) for step in way[start:] for setup in plan.tree.steps[step].setups)
    return (speed + tried.store_s[mix]) * mixes[mix].file.duration_s


def _variant_s(plan: Plan, id: str, passes: float, mixes: Sequence[Measured], tried: Speeds) -> float:
    variant, path = plan.variants[id], plan.tree.paths[id]
    behind = plan.stages_behind(id, nearest(path.steps, plan.storing.starts))
    speed = sum(tried.stages[variant.mix].get(s, 0.0) for s in variant.stages[behind:] if not s.bypass)
    return (speed + tried.pass_s[variant.mix]) * passes * mixes[variant.mix].file.duration_s


def _stage_words(chain: Chain, examined: Examined, shown: Shown) -> list[str]:
    words = []
    for stage in chain.stages:
        for choice in stage.choices:
            if choice.is_fader or choice.outside:
                words.append(f"{stage.name}: {_without_plugin(choice)}")
                continue
            plugin = examined.plugins[(stage.name, choice.label)]
            extra = [f"as {choice.label}"] if choice.label and choice.label != plugin.name else []
            extra += ["bypassed"] if choice.bypass else []
            extra += [choice.channels.value] if choice.channels.value != "stereo" else []
            extra += [f"on the bus {choice.bus}"] if choice.bus else []
            extra += [f"blend {100 * choice.blend:g} %"] if choice.blend != 1 else []
            key = (stage.name, choice.label)
            extra += stage_words(plugin, shown.stages.get(key), shown.repeats(key))
            what = f"{stage.name}: {plugin.name} {plugin.version}".rstrip()
            words.append(what + (f" ({', '.join(extra)})" if extra else ""))
    return words


def _without_plugin(stage: Stage) -> str:
    off = ", bypassed" if stage.bypass else ""
    return f"bus at {stage.output_trim_db:g} dB{off}" if stage.is_fader else f"outside: {stage.outside}{off}"


def _in_words(plan: Plan, steps: tuple[int, ...], passes: dict[str, int], worst: int, times_s: tuple[float, ...],
              disk: Need, workers: int) -> list[str]:  # fmt: skip
    solved = plan.count.predicted is None
    many = f"{len(plan.variants)} variant{'s' * (len(plan.variants) != 1)}"
    if solved:
        each = f"about {sum(passes.values())} passes (at worst {worst}) and {steps[0]} steps"
        span = f"{clock(times_s[0])}, at worst {clock(times_s[1])}"
    else:
        each, span = f"{steps[0]} steps", clock(times_s[0])
    shared = f" ({_unshared(plan, passes)} if nothing were shared)"
    there = f", {plan.count.found} more are in the store" if plan.count.found else ""
    results, store = disk.results / 1e6, disk.store / 1e6
    hands = f"{workers} worker{'s' * (workers != 1)}"
    return [f"{many}: {each}{shared}{there}",
            f"about {span} with {hands}; on disk {results:.0f} MB, and {store:.0f} MB for steps"]
