"""How many full renders reaches take on real music through real limiters. Not a test: a program that prints a table.

    python tests/bench/reach_passes.py [--seconds 60] [--tracks 4] [--workers 1]

Needs the Debian packages that the tests need. Each line: limiter, track, how much louder; then passes (and the ending
where it was not on target) for loudness alone, for true peak alone, for both together, and for both in a variant with
another release that was taught by the first. Each loudness is measured again by pyloudnorm on the last render.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from pathlib import Path

from reach_cases import LIMITERS, Case

from sweeper.plan.reach import Ending
from sweeper.render.job import Solved
from sweeper.workers import Failed, Pool, Task

FOLDERS = (Path("/usr/share/games/singularity/music"), Path("/usr/share/scummvm/drascula/audio"))
TRACKS = ("Deprecation.ogg", "track5.ogg", "Enemy Unknown.ogg", "track27.ogg", "Advanced Simulacra.ogg", "track11.ogg",
          "Media Threat.ogg", "track2.ogg", "Coherence.ogg", "track14.ogg")  # fmt: skip
LOUDER_LU = (2.0, 4.0, 6.0)


def main() -> int:
    """Print the table and its medians; 1 when a case failed."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--seconds", type=float, default=60.0)
    options.add_argument("--tracks", type=int, default=4)
    options.add_argument("--workers", type=int, default=1)
    chosen = options.parse_args()
    found = [next(f / name for f in FOLDERS if (f / name).is_file()) for name in TRACKS[: chosen.tracks]]
    cases = [Case(limiter, track, louder, chosen.seconds) for limiter in LIMITERS for track in found
             for louder in LOUDER_LU]  # fmt: skip
    tasks = [Task(str(n), "reach_cases:passes", case, case.track.name) for n, case in enumerate(cases)]
    met: dict[str, list[int]] = {}
    failed = 0
    with Pool(chosen.workers) as pool:
        for case, outcome in zip(cases, pool.map_in_order(tasks), strict=True):
            name = f"{case.limiter.name:12} {case.track.stem[:20]:20} +{case.louder_lu:g} LU"
            if isinstance(outcome, Failed):
                failed += 1
                print(name, "failed:", outcome.error or outcome.what, outcome.said, flush=True)
                continue
            print(name, "  ".join(f"{way} {_words(solved)}" for way, solved in outcome.value.items()), flush=True)
            for way, solved in outcome.value.items():
                reached = all(s.ending in (Ending.ON_TARGET, Ending.NOT_ENGAGED) for s in solved)
                met.setdefault(way if reached else f"{way}, not all met", []).append(solved[0].passes)
    for way, counts in sorted(met.items()):
        print(f"{way}: median {statistics.median(counts):g}, mean {statistics.mean(counts):.2f}, "
              f"worst {max(counts)}, of {len(counts)}")  # fmt: skip
    return 1 if failed else 0


def _words(solved: tuple[Solved, ...]) -> str:
    ends = [f"{s.ending.value} {s.value:.2f} at {s.at:.2f} {s.why}" for s in solved if s.ending is not Ending.ON_TARGET]
    return f"{solved[0].passes}" + (f" ({'; '.join(ends)})" if ends else "")


if __name__ == "__main__":
    sys.exit(main())
