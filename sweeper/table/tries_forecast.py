"""What trying variants on excerpts takes before the best are rendered, put before what a forecast says of these."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from sweeper.chain.model import Chain
from sweeper.chain.own_chain import chain_of
from sweeper.meter.excerpts import LISTENED, LONG, MOST
from sweeper.meter.passage import MOST_S
from sweeper.plan.looks import keys_each_pass, keys_once
from sweeper.plan.reach_terms import MOST_PASSES
from sweeper.plan.variants import Variant
from sweeper.render.costs import Speeds
from sweeper.render.looks import look_s, looks_for
from sweeper.render.orders import Measured
from sweeper.table.forecast import Checked
from sweeper.units import clock

#: How often the excerpts are played for a variant that is solved: in the median, by trial on real tracks; and at worst,
#: when it was taught, misses, and is searched once more.
USUAL_TRIES, WORST_TRIES = 3, 2 * MOST_PASSES


def with_tries(found: Checked, chain: Chain, tries: Sequence[Variant], rendered: int, mixes: Sequence[Measured],
               speeds: Speeds, workers: int) -> Checked:  # fmt: skip
    """found: of the variants that are rendered, so many. tries: as many as may be tried, by chance."""
    median_s, worst_s = (sum(_try_s(chain, one, mixes, speeds, worst) for one in tries) / workers
                         for worst in (False, True))  # fmt: skip
    share = sum(played_share(mixes[one.mix].file.duration_s) for one in tries) / max(len(tries), 1)
    solved = any(one.turns for one in tries)
    times = f"some {USUAL_TRIES} times each" if solved else "once each"
    span = f"{clock(median_s)}, at worst {clock(worst_s)}" if solved else clock(median_s)
    first = (f"at most {len(tries)} variants tried on excerpts, {100 * share:.0f} % of the mix {times}: about {span}; "
             f"then the best {rendered} rendered")  # fmt: skip
    best, *rest = found.estimate
    data = dict(found.data)
    explore = data.get("explore")
    assert isinstance(explore, dict)
    data["explore"] = {**explore, "on_excerpts": {"tried": len(tries), "rendered": rendered, "share": round(share, 3),
                       "estimated_s_median": round(median_s, 1), "estimated_s_worst": round(worst_s, 1)}}  # fmt: skip
    for key, more_s in (("estimated_s_median", median_s), ("estimated_s_worst", worst_s)):
        data[key] = round(float(str(data[key])) + more_s, 1)
    return replace(found, estimate=(first, best.removeprefix("at most "), *rest), data=data)


def played_share(duration_s: float) -> float:
    """How much of a mix is played at a time."""
    each, tenths = LONG.lead + LONG.longest, 10 * duration_s
    many = max(math.floor(min(LISTENED * tenths, MOST) / each), LONG.fewest)
    return min(many * each / tenths, 1.0)


def _try_s(chain: Chain, variant: Variant, mixes: Sequence[Measured], speeds: Speeds, worst: bool) -> float:
    duration_s, own = mixes[variant.mix].file.duration_s, chain_of(chain, variant.mix)
    tries = 1 if not variant.turns else WORST_TRIES if worst else USUAL_TRIES
    speed = sum(speeds.stages[variant.mix].get(setup, 0.0) for setup in variant.stages if not setup.bypass)
    played_s = (speed * played_share(duration_s) * tries + speeds.pass_s[variant.mix]) * duration_s
    each_pass, once = (looks_for(variant.stages, keys(own), {})[0] for keys in (keys_each_pass, keys_once))
    left = [look for look in once if look.stage not in {one.stage for one in each_pass}]
    looks_s = (look_s(variant.stages, looks, speeds.stages[variant.mix]) for looks in (each_pass, left))
    return played_s + min(MOST_S, duration_s) * (tries * next(looks_s) + next(looks_s))
