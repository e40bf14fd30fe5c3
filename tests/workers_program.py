"""A program with a pool, for tests that end the program. Arguments: one function:argument for each task."""

from __future__ import annotations

import sys

from sweeper.workers import Pool, Task

if __name__ == "__main__":
    tasks = [
        Task(word, f"workers_tasks:{word.partition(':')[0]}", float(word.partition(":")[2]), "a test")
        for word in sys.argv[1:]
    ]
    with Pool(
        len(tasks), lambda event: print(event["event"], event.get("pid"), flush=True), grace_s=0.3
    ) as pool:
        pool.map_in_order(tasks)
