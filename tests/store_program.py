"""Entries for the tests of the store, and another process that uses it.

    python store_program.py WHAT FOLDER [KEY...]

Says a word a line on stdout when it has got somewhere, and waits for a line on stdin where it says so.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from sweeper.audio import AudioFormat
from sweeper.errors import SweeperError
from sweeper.records import Applied, StageRecord
from sweeper.render.store import Store, write_entry

FORMAT = AudioFormat(2, 48000)
ROOMY_BYTES = 1 << 30
STAGE = StageRecord(
    "glue", "Bus Comp", "C:\\VST3\\Bus Comp.vst3", "Ödland “Audio”", "1.2", "id", "ab" * 32, "", "", "stereo", False,
    -1.5, 0.1, 64, (Applied("Ratio", 3, "", "4:1", 0.30000000000000004, "4.00:1"),),
    (Applied("Mix", 4, "left", "", 1.0, "100 %"), Applied("日本", 5, "", "", 1e-300, "\ud83c")),
)  # fmt: skip


def key(number: object) -> str:
    """A key."""
    return hashlib.sha256(str(number).encode()).hexdigest()


def sound(frames: int, seed: int = 1, channels: int = 2) -> np.ndarray:
    """Noise, float32, (channels, frames)."""
    return np.random.default_rng(seed).uniform(-1.5, 1.5, (channels, frames)).astype(np.float32)


def put(folder: Path, name: str, samples: np.ndarray, stages: tuple[StageRecord, ...] = (STAGE,)) -> None:
    """Write an entry, in two blocks."""
    with write_entry(folder, name, AudioFormat(samples.shape[0], 48000)) as writer:
        writer.write(samples[:, :100])
        writer.write(samples[:, 100:])
        writer.commit(stages, ("a note",), 2.5)


def child(what: str, folder: Path, *keys: str, **options: object) -> subprocess.Popen[str]:
    """This file as another process."""
    command = [sys.executable, __file__, what, str(folder), *keys]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    return subprocess.Popen(command, **pipes, **options)


def say(word: object) -> None:
    print(word, flush=True)


def hold(folder: Path, name: str) -> None:
    """Lease an entry, with more room reserved for another, until a line comes."""
    with Store(folder, ROOMY_BYTES) as store:
        say(store.claim(name) and store.reserve(key("promised"), 10_000))
        sys.stdin.readline()


def write(folder: Path, name: str) -> None:
    """Write one entry as far as its commit, and that after a line came."""
    with write_entry(folder, name, FORMAT) as writer:
        writer.write(sound(20_000, os.getpid()))
        say("written")
        sys.stdin.readline()
        writer.commit((STAGE,), (), 1.0)
        say("committed")


def use(folder: Path, *names: str) -> None:
    """Claim, reserve, write and release the keys over and over, in a store with room for few."""
    rng = np.random.default_rng(os.getpid())
    with Store(folder, 40_000) as store:
        for name in rng.choice(names, 60):
            if not store.claim(name):
                if not store.reserve(name, 10_000):
                    continue
                put(folder, name, sound(1000, int(name[:8], 16)))
            assert store.has(name), "a leased entry is gone"
            assert store.total_bytes() <= 40_000, "over the limit"
            store.release(name)
    say("done")


def fill(folder: Path, name: str) -> None:
    """Write more than this process may write into a file."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
    try:
        put(folder, name, sound(20_000))
    except SweeperError as error:
        say(type(error).__name__)
        say(str(error).replace("\n", " "))


if __name__ == "__main__":
    {"hold": hold, "write": write, "use": use, "fill": fill}[sys.argv[1]](Path(sys.argv[2]), *sys.argv[3:])
