"""A loudness reach against a stock optimiser on the error, on real music through real limiters. Prints a table; nothing
is asserted.

    python tests/bench/reach_against_trials.py [--seconds 60] [--tracks 2] [--louder 4] [--most 60] [--seeds 1]

- ours: a reach as a run solves it, render, sheet and every measurement included.
- trials: pedalboard with the whole track in memory, pyloudnorm on what comes out, and optuna's TPE sampler as it comes
  on |loudness - target|; it ends within 0.1 LU of the target or after --most trials, and writes the last render. It
  looks between 0 and -30 dB of threshold, or 0 and 24 dB of gain before the limiter. --seeds: the median of so many.

The target is so much above the track's own loudness. Both run in the same worker, one after the other, once each has
had a few seconds of the track to load and compile what it needs. Each line: full passes (+ excerpts, in full passes)
and seconds of ours; trials and seconds of the other; how many times as much the other took; and how far both are from
the target by pyloudnorm. Needs the Debian packages that the tests need.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from reach_cases import LIMITERS, Case, cut
from reach_passes import found
from reach_trials import Side, Trials

from sweeper.workers import Failed, Pool, Task

WARM_S = 6.0


def main() -> int:
    """Print the table and its medians; 1 when a case failed."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--seconds", type=float, default=60.0)
    options.add_argument("--tracks", type=int, default=2)
    options.add_argument("--louder", type=float, default=4.0)
    options.add_argument("--most", type=int, default=60)
    options.add_argument("--seeds", type=int, default=1)
    chosen = options.parse_args()
    with TemporaryDirectory() as name, Pool(1) as pool:
        folder, tasks = Path(name), []
        for track in found(chosen.tracks):
            whole = cut(track, chosen.seconds, folder / f"{track.stem}.wav")
            warm = cut(track, WARM_S, folder / f"{track.stem} start.wav")
            for limiter in LIMITERS:
                own = folder / str(len(tasks))
                own.mkdir()
                trials = Trials(Case(limiter, whole, chosen.louder, own), warm, chosen.most, chosen.seeds)
                tasks.append(Task(str(len(tasks)), "reach_trials:both", trials,
                                  f"{limiter.name:12} {track.stem[:20]}"))  # fmt: skip
        return _printed(tasks, pool)


def _printed(tasks: list[Task], pool: Pool) -> int:
    print(f"{'':33}{'ours':>23}{'trials':>15}{'times as much':>24}   {'off target, LU':>15}")
    print(f"{'limiter':12} {'track':20}{'passes':>15}{'s':>8}{'':7}{'s':>8}{'renders':>10}{'s':>6}{'core s':>8}"
          f"   {'ours':>7}{'trials':>8}", flush=True)  # fmt: skip
    pairs: list[tuple[Side, Side]] = []
    for task, outcome in zip(tasks, pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            print(task.where, "failed:", outcome.error or outcome.what, outcome.said, flush=True)
            continue
        pairs.append(outcome.value)
        print(f"{task.where:33}{_line(*outcome.value)}", flush=True)
    if pairs:
        _print_medians(pairs)
    return 0 if len(pairs) == len(tasks) else 1


def _line(mine: Side, other: Side) -> str:
    renders, wall, core = ratios(mine, other)
    lost = "  ours is not on target" * (not mine.landed) + "  trials are not on target" * (not other.landed)
    return (f"{mine.renders:8g} + {mine.excerpts:4.2f}{mine.wall_s:8.1f}{other.renders:7g}{other.wall_s:8.1f}"
            f"{renders:10.1f}{wall:6.1f}{core:8.1f}   {mine.off_lu:+7.3f}{other.off_lu:+8.3f}{lost}")  # fmt: skip


def _print_medians(pairs: list[tuple[Side, Side]]) -> None:
    times = [ratios(*pair) for pair in pairs]
    ours, trials = ([pair[which] for pair in pairs] for which in (0, 1))
    print(f"medians of {len(pairs)}: ours "
          f"{statistics.median(one.renders + one.excerpts for one in ours):.2f} passes in "
          f"{statistics.median(one.wall_s for one in ours):.1f} s, trials "
          f"{statistics.median(one.renders for one in trials):g} in "
          f"{statistics.median(one.wall_s for one in trials):.1f} s")  # fmt: skip
    for what, values in zip(("renders", "seconds", "seconds of a core"), zip(*times, strict=True), strict=True):
        print(f"times as many {what}: {statistics.median(values):.1f}, from {min(values):.1f} to {max(values):.1f}")


def ratios(mine: Side, other: Side) -> tuple[float, float, float]:
    """How many times as much the other took: of renders, excerpts counted in, of seconds, and of seconds of a core."""
    return other.renders / (mine.renders + mine.excerpts), other.wall_s / mine.wall_s, other.core_s / mine.core_s


if __name__ == "__main__":
    sys.exit(main())
