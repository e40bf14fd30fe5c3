"""How well variants tried on excerpts rank as the same variants rendered in full, on real music.

    python3 tests/bench/excerpt_ranks.py [SECONDS]

A compressor in twelve settings before a limiter, solved to one loudness, each in full and on excerpts of three kinds.
Printed: Kendall's tau (scipy) of every measurement over the twelve, how far it is off in the median and at most, how
much of the mix was played, and the time.
"""

from __future__ import annotations

import itertools
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from conftest import MUSIC
from excerpt_tasks import Kind
from plugin_fixtures import stage
from reach_cases import cut
from rendering import variant_job
from scipy.stats import kendalltau

from sweeper.audio import audio_hash, inspect
from sweeper.meter.excerpts import LISTENED, LONG, SHORT
from sweeper.plan.reach import Direction
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, ReachOrder, Rendered
from sweeper.render.jobs import mix_file
from sweeper.render.orders import Measured
from sweeper.workers import Done, Pool, Task

KINDS = (Kind("short", 0.06, SHORT), Kind("a sixth", LISTENED, LONG), Kind("a third", 1 / 3, LONG))
KEYS = ("loudness_lufs", "true_peak_dbtp", "crest_db", "crest_loud_db", "psr_db", "momentary_max_lufs",
        "short_term_max_lufs", "loudness_range_lu", "correlation_worst", "side_mid_db", "mono_loss_lu",
        "tilt_db")  # fmt: skip
SETTINGS = tuple(itertools.product(("-34 dB", "-26 dB"), ("1.5", "3"), ("3 ms", "15 ms", "50 ms")))
LIMITER = stage("builtin:BrickwallLimiter", name="limiter")


def main(seconds: float) -> None:
    with tempfile.TemporaryDirectory() as place, Pool(2) as pool:
        for name in ("track5", "Deprecation"):
            track = cut(Path(MUSIC[name][0]), seconds, Path(place) / f"{name}.wav")
            _one(name, track, Path(place), pool)


def _one(name: str, track: Path, place: Path, pool: Pool) -> None:
    file = inspect(track)
    mix = mix_file(Measured(file, Measurements({}), audio_hash(file)))
    jobs = []
    for number, (threshold, ratio, attack) in enumerate(SETTINGS):
        glue = stage("builtin:Compressor", name="glue", threshold_db=threshold, ratio=ratio, attack_ms=attack)
        folder = place / f"{name}{number}"
        folder.mkdir()
        goal = GoalOrder("loudness_lufs", -11.0, 1, 0.1, False, "loudness")
        order = ReachOrder(1, "input trim", "", Direction.RAISE, (goal,))
        jobs.append(variant_job(mix, folder / "render.wav", (glue, LIMITER), (order,)))
    full, took_s = _all(pool, "sweeper.render.task:render_variant", jobs)
    print(f"{name}, {file.duration_s:.0f} s: {took_s:.1f} s in full, "
          f"{np.mean([one.passes + one.excerpts for one in full]):.2f} mixes each")
    for kind in KINDS:
        tried, took_s = _all(pool, "excerpt_tasks:listened", [(job, kind) for job in jobs])
        played = np.mean([one.excerpts for one in tried])
        print(f"  {kind.name}: {took_s:.1f} s, {played:.2f} mixes each; solved for {tried[0].solved[0].passes} tries")
        for key in KEYS:
            pairs = [(a.measurements.values[key], b.measurements.values[key]) for a, b in zip(tried, full, strict=True)]
            heard, whole = np.array(pairs, float).T
            tau, off = kendalltau(heard, whole).statistic, np.abs(heard - whole)
            print(f"    {key:22} tau {tau:5.2f}  off {np.median(off):.2f}, at most {off.max():.2f}  "
                  f"(spread {np.ptp(whole):.2f})")  # fmt: skip


def _all(pool: Pool, function: str, arguments: list[object]) -> tuple[list[Rendered], float]:
    began = time.perf_counter()
    tasks = [Task(str(number), function, argument, "a variant") for number, argument in enumerate(arguments)]
    made = []
    for outcome in pool.map_in_order(tasks):
        assert isinstance(outcome, Done), outcome
        made.append(outcome.value)
    return made, time.perf_counter() - began


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 180.0)
