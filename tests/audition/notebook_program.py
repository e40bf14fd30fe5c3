"""A program that saves notes until it is ended, for tests that end it. Argument: the folder."""

from __future__ import annotations

import sys
from pathlib import Path

from sweeper.audition.notebook import Notebook

if __name__ == "__main__":
    notebook = Notebook(Path(sys.argv[1]), "tin-boats#0123456789ab")
    revision = notebook.read()["revision"]
    while True:
        text = f"revision {revision} " * 2000
        picks = {f"{n:03d}": {"verdict": "keep", "notes": [{"at_s": None, "text": text[:9000]}]} for n in range(30)}
        revision = notebook.save({"schema": 1, "run": notebook.identity, "picks": picks, "revision": revision})
        print(revision, flush=True)
