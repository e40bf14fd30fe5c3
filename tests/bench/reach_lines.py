"""What reaches took, a line a case as each comes in, and a line a way of solving at the end."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from sweeper.plan.reach import Ending
from sweeper.render.job import Rendered
from sweeper.workers import Failed, Pool, Task

MET = (Ending.ON_TARGET, Ending.NOT_ENGAGED)


def printed(names: Sequence[str], tasks: Sequence[Task], pool: Pool) -> int:
    """Do the tasks, each of which solves its case in some ways, and print; 1 when one failed.

    names: what each case is called. The key of each task is its number.
    """
    ways: dict[str, list[Rendered]] = {}
    failed = 0
    for outcome in pool.run(tasks):
        name = names[int(outcome.key)]
        if isinstance(outcome, Failed):
            failed += 1
            print(name, "failed:", outcome.error or outcome.what, outcome.said, flush=True)
            continue
        made: dict[str, Rendered] = outcome.value
        print(name, "  ".join(f"{way} {_in_words(one)}" for way, one in made.items()), flush=True)
        for way, one in made.items():
            reached = all(solved.ending in MET for solved in one.solved)
            ways.setdefault(way if reached else f"{way}, not all met", []).append(one)
    for way, all_made in sorted(ways.items()):
        print(f"{way}: {_summed(all_made)}")
    return 1 if failed else 0


def _in_words(rendered: Rendered) -> str:
    """Full passes and excerpts, seconds, and how what was not met ended."""
    ends = [f"{s.ending.value} {s.value:.2f} at {s.at:.2f} {s.why}" for s in rendered.solved
            if s.ending is not Ending.ON_TARGET]  # fmt: skip
    return (f"{rendered.passes} + {rendered.excerpts:.2f} {rendered.wall_s:.1f} s"
            + (f" ({'; '.join(ends)})" if ends else ""))  # fmt: skip


def _summed(made: Sequence[Rendered]) -> str:
    full, excerpts = [one.passes for one in made], [one.excerpts for one in made]
    return (f"full passes median {statistics.median(full):g}, mean {statistics.mean(full):.2f}, worst {max(full)}; "
            f"excerpts mean {statistics.mean(excerpts):.2f}, most {max(excerpts):.2f}; seconds mean "
            f"{statistics.mean(one.wall_s for one in made):.1f}; of {len(made)}")  # fmt: skip
