"""How many full renders reaches take on real music through real limiters. Not a test: a program that prints a table.

    python tests/bench/reach_passes.py [--seconds 180] [--tracks 5] [--workers 1]

Needs the Debian packages that the tests need. Each line: limiter, track, how much louder; then full passes + excerpts,
in full passes too (and the ending where it was not on target), for loudness alone, for true peak alone, for both
together, and for both in a variant with another release that was taught by the first. Each loudness is measured again
by pyloudnorm on the last render.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from reach_cases import LIMITERS, Case, cut

from sweeper.plan.reach import Ending
from sweeper.render.job import Rendered
from sweeper.workers import Failed, Pool, Task

FOLDERS = (Path("/usr/share/games/singularity/music"), Path("/usr/share/scummvm/drascula/audio"))
TRACKS = ("Deprecation.ogg", "track5.ogg", "Enemy Unknown.ogg", "track27.ogg", "Advanced Simulacra.ogg", "track11.ogg",
          "Media Threat.ogg", "track2.ogg", "Coherence.ogg", "track14.ogg")  # fmt: skip
LOUDER_LU = (2.0, 4.0, 6.0)


def main() -> int:
    """Print the table and its medians; 1 when a case failed."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--seconds", type=float, default=180.0)
    options.add_argument("--tracks", type=int, default=5)
    options.add_argument("--workers", type=int, default=1)
    chosen = options.parse_args()
    with TemporaryDirectory() as name, Pool(chosen.workers) as pool:
        return _printed(chosen.tracks, chosen.seconds, Path(name), pool)


def found(tracks: int) -> list[Path]:
    """The first so many of the tracks."""
    return [next(f / name for f in FOLDERS if (f / name).is_file()) for name in TRACKS[:tracks]]


def _printed(tracks: int, seconds: float, folder: Path, pool: Pool) -> int:
    cut_out = {track: cut(track, seconds, folder / f"{track.stem}.wav") for track in found(tracks)}
    cases = []
    for limiter in LIMITERS:
        for track in cut_out:
            for louder in LOUDER_LU:
                own = folder / str(len(cases))
                own.mkdir()
                cases.append(Case(limiter, cut_out[track], louder, own))
    tasks = [Task(str(n), "reach_cases:passes", case, case.track.name) for n, case in enumerate(cases)]
    met: dict[str, list[tuple[int, float]]] = {}
    failed = 0
    for case, outcome in zip(cases, pool.map_in_order(tasks), strict=True):
        name = f"{case.limiter.name:12} {case.track.stem[:20]:20} +{case.louder_lu:g} LU"
        if isinstance(outcome, Failed):
            failed += 1
            print(name, "failed:", outcome.error or outcome.what, outcome.said, flush=True)
            continue
        print(name, "  ".join(f"{way} {in_words(rendered)}" for way, rendered in outcome.value.items()), flush=True)
        for way, rendered in outcome.value.items():
            reached = all(s.ending in (Ending.ON_TARGET, Ending.NOT_ENGAGED) for s in rendered.solved)
            kind = way if reached else f"{way}, not all met"
            met.setdefault(kind, []).append((rendered.passes, rendered.excerpts))
    for way, counts in sorted(met.items()):
        full, excerpts = [passes for passes, _ in counts], [excerpts for _, excerpts in counts]
        print(f"{way}: full passes median {statistics.median(full):g}, mean {statistics.mean(full):.2f}, worst "
              f"{max(full)}; excerpts mean {statistics.mean(excerpts):.2f}, most {max(excerpts):.2f}; "
              f"of {len(counts)}")  # fmt: skip
    return 1 if failed else 0


def in_words(rendered: Rendered) -> str:
    """Full passes and excerpts, and how what was not met ended."""
    ends = [f"{s.ending.value} {s.value:.2f} at {s.at:.2f} {s.why}" for s in rendered.solved
            if s.ending is not Ending.ON_TARGET]  # fmt: skip
    return f"{rendered.passes} + {rendered.excerpts:.2f}" + (f" ({'; '.join(ends)})" if ends else "")


if __name__ == "__main__":
    sys.exit(main())
