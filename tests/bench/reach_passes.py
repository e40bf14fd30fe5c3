"""How many full renders reaches take on real music through real limiters. Not a test: a program that prints a table.

    python tests/bench/reach_passes.py [--seconds 180] [--tracks 5] [--workers 1]

Needs the Debian packages that the tests need. Each line: limiter, track, how much louder; then full passes + excerpts,
in full passes too, and seconds (and the ending where it was not on target): for loudness alone, for true peak alone,
for both together, and for both in a variant with another release that was taught by the first. Each loudness is
measured again by pyloudnorm on the last render.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from reach_cases import LIMITERS, Case, cut
from reach_lines import printed

from sweeper.workers import Pool, Task

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
    names = [f"{case.limiter.name:12} {case.track.stem[:20]:20} +{case.louder_lu:g} LU" for case in cases]
    return printed(names, tasks, pool)


if __name__ == "__main__":
    sys.exit(main())
