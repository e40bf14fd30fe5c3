"""How fast the store is: writing, checking and reading a step, and its book-keeping with many entries.

    python tests/bench/store_speed.py [FOLDER] [MINUTES]

FOLDER: on the disk that is to be measured. MINUTES: of stereo at 96 kHz; 5 are 230 MB.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from store_program import STAGE, key, put, sound

from sweeper.audio import AudioFormat, blocks
from sweeper.render.store import Store, open_entry, write_entry

RATE_HZ, CHUNK_FRAMES, MANY, TIMES = 96000, 95232, 1000, 3
LARGE_STAGE = STAGE.__class__(**{**STAGE.__dict__, "standing": STAGE.standing * 100})


@contextmanager
def timed(what: str, megabytes: float = 0.0) -> Iterator[None]:
    """Say how long it took, or how fast it was."""
    began = time.perf_counter()
    yield
    took_s = time.perf_counter() - began
    print(f"{what:44}" + (f"{megabytes / took_s:8.0f} MB/s" if megabytes else f"{1000 * took_s:8.2f} ms"))


def speeds(folder: Path, minutes: float) -> None:
    """One long entry, several times."""
    chunk = sound(CHUNK_FRAMES)
    chunks = int(minutes * 60 * RATE_HZ / CHUNK_FRAMES)
    megabytes = chunks * chunk.nbytes / 1e6
    for number in range(TIMES):
        with (
            timed("write and commit", megabytes),
            write_entry(folder, key(number), AudioFormat(2, RATE_HZ)) as writer,
        ):
            for _ in range(chunks):
                writer.write(chunk)
            writer.commit((LARGE_STAGE,) * 4, (), 1.0)
        with timed("open, every byte checked", megabytes):
            entry = open_entry(folder, key(number))
        with timed("read block by block", megabytes):
            peak = max(float(np.abs(block).max()) for block in blocks(entry.file, CHUNK_FRAMES))
        assert peak > 1


def bookkeeping(folder: Path) -> None:
    """A store of many small entries with long descriptions."""
    for number in range(MANY):
        put(folder, key(number), sound(200), (LARGE_STAGE,) * 4)
    calls: dict[str, Callable[[Store], object]] = {
        "has": lambda store: store.has(key(5)),
        "total_bytes": lambda store: store.total_bytes(),
        "claim": lambda store: store.claim(key(5)),
        "release": lambda store: store.release(key(5)),
        "reserve": lambda store: store.reserve(key("new"), 1000),
    }
    with timed(f"opening a store of {MANY}"):
        store = Store(folder, 1 << 40).__enter__()
    for name, call in calls.items():
        with timed(f"{name}, {MANY} entries"):
            call(store)
    store.__exit__()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as made:
        speeds(Path(made) / "long", float(sys.argv[2]) if len(sys.argv) > 2 else 5)
        bookkeeping(Path(made) / "many")
