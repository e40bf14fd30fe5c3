"""Everything of ours and under us that can change a rendered bit or a number."""

from __future__ import annotations

import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from sweeper.records import SOUND_VERSION
from sweeper.version import VERSION

#: numba compiles the meters' loops where it is there: its numbers may differ from numpy's in the last bits.
LIBRARIES = ("pedalboard", "numpy", "scipy", "soundfile", "numba")


def versions() -> dict[str, str]:
    """Name -> version, for sheets and run.json; "none" for a library that is not installed."""
    own = {"sweeper": VERSION, "sound": str(SOUND_VERSION), "python": platform.python_version(),
           "system": f"{platform.system()} {platform.machine()}", "processor": processor()}  # fmt: skip
    return own | {name: _installed(name) for name in LIBRARIES}


@cache
def processor() -> str:
    """What the system calls its processor; it says so on Linux in a file of its own."""
    try:
        lines = Path("/proc/cpuinfo").read_text("utf-8", errors="replace").splitlines()
    except OSError:  # another system
        lines = []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, "") or platform.processor() or platform.machine()


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "none"
