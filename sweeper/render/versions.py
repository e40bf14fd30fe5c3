"""Everything of ours and under us that can change a rendered bit or a number."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

from sweeper.records import SOUND_VERSION
from sweeper.version import VERSION

#: numba compiles the meters' loops where it is there: its numbers may differ from numpy's in the last bits.
LIBRARIES = ("pedalboard", "numpy", "scipy", "soundfile", "numba")


def versions() -> dict[str, str]:
    """Name -> version, for sheets and run.json; "none" for a library that is not installed."""
    own = {"sweeper": VERSION, "sound": str(SOUND_VERSION), "python": platform.python_version(),
           "system": f"{platform.system()} {platform.machine()}"}  # fmt: skip
    return own | {name: _installed(name) for name in LIBRARIES}


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "none"
