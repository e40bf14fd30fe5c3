"""Everything of ours and under us that can change a rendered bit or a number."""

from __future__ import annotations

import platform
from importlib.metadata import version

from sweeper.records import SOUND_VERSION
from sweeper.version import VERSION

LIBRARIES = ("pedalboard", "numpy", "scipy", "soundfile")


def versions() -> dict[str, str]:
    """Name -> version, for sheets and run.json."""
    own = {"sweeper": VERSION, "sound": str(SOUND_VERSION), "python": platform.python_version(),
           "system": f"{platform.system()} {platform.machine()}"}  # fmt: skip
    return own | {name: version(name) for name in LIBRARIES}
