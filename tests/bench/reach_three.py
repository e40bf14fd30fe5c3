"""How many full renders it takes to meet loudness, true peak and attenuation together. Not a test: prints a table.

    python tests/bench/reach_three.py [--seconds 180] [--tracks 5] [--workers 1]

Needs the Debian packages that the tests need. Two chains with each limiter: a compressor before it whose attenuation is
to be 2 dB, and a clipper before it, by which the loudness is reached, while the limiter itself is to attenuate 3 dB.
Each line: chain, limiter, track; full passes + excerpts, in full passes too, and seconds; with and without excerpts.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from reach_cases import LIMITERS, THREE, Case, cut
from reach_lines import printed
from reach_passes import found

from sweeper.workers import Pool, Task


def main() -> int:
    """Print the table and its medians; 1 when a case failed."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--seconds", type=float, default=180.0)
    options.add_argument("--tracks", type=int, default=5)
    options.add_argument("--workers", type=int, default=1)
    options.add_argument("--excerpts-only", action="store_true", help="leave out the search without excerpts")
    chosen = options.parse_args()
    with TemporaryDirectory() as name, Pool(chosen.workers) as pool:
        folder = Path(name)
        cut_out = [cut(track, chosen.seconds, folder / f"{track.stem}.wav") for track in found(chosen.tracks)]
        cases = []
        for chain in THREE:
            for limiter in LIMITERS:
                for track in cut_out:
                    (own := folder / str(len(cases))).mkdir()
                    cases.append((chain, Case(limiter, track, 4.0, own), chosen.excerpts_only))
        tasks = [Task(str(n), "reach_cases:three", case, case[1].track.name) for n, case in enumerate(cases)]
        names = [f"{chain:10} {case.limiter.name:12} {case.track.stem[:20]:20}" for chain, case, _ in cases]
        return printed(names, tasks, pool)


if __name__ == "__main__":
    sys.exit(main())
