"""Runs the tests, after installing what they need.

    python3 tests/run.py [--long] [--setup-only] [pytest's own options]

Needs Python 3.11 or later. Plugins, compiler and music are Debian packages: as root they are installed, else
what is missing is named. Python 3.6 and later can read this file, so that an old one can say so.
"""

import os
import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an old Python is whom this is for
    sys.exit("Python 3.11 or later is needed; this is %d.%d. Install one from python.org, or name it: "  # noqa: UP031
             "python3.11 tests/run.py" % sys.version_info[:2])  # fmt: skip

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "demo"))  # noqa: PTH100, PTH118, PTH120

import shutil
import time
from pathlib import Path

from setup_env import (
    PYTHON,
    SetupError,
    apt_install,
    clock,
    exit_code_of,
    may_install_packages,
    ready_environment,
    said,
)

#: Debian package -> the programs, or files, that it is wanted for.
NEEDED = {
    "g++": ("g++",),
    "make": ("make",),
    "ffmpeg": ("ffmpeg", "ffprobe"),
    "flac": ("flac",),
    "dpf-source": ("/usr/share/dpf/distrho/DistrhoPluginMain.cpp",),
    "zam-plugins": ("/usr/lib/vst3/ZaMaximX2.vst3",),
    "xvfb": ("Xvfb",),
    "openbox": ("openbox",),
    "xdotool": ("xdotool",),
    "drascula-music": ("/usr/share/scummvm/drascula/audio/track27.ogg",),
    "chromium": ("chromium",),
    "singularity-music": ("/usr/share/games/singularity/music/Deprecation.ogg",),
}  # fmt: skip


def missing_packages() -> list[str]:
    """The packages of which something is not there."""
    return [package for package, things in NEEDED.items() if not all(map(_there, things))]


def _there(thing: str) -> bool:
    return Path(thing).exists() if thing.startswith("/") else shutil.which(thing) is not None


def get_packages() -> None:
    """Install the packages that are missing where we may. Raises SetupError where we may not."""
    missing = missing_packages()
    if not missing:
        return
    if not may_install_packages():
        raise SetupError(
            f"the tests need what these Debian packages hold, and it is not here: {', '.join(missing)}\n"
            f"    on Debian or Ubuntu: sudo apt-get install --no-install-recommends {' '.join(missing)}\n"
            "    elsewhere: run the tests in a Debian 12 machine or container"
        )
    apt_install(missing)
    for package in missing_packages():
        raise SetupError(f"{package} is installed, but {' or '.join(NEEDED[package])} is not there: "
                         "run the tests on Debian 12")  # fmt: skip


def side_by_side(arguments: list[str]) -> list[str]:
    """Two files of tests at a time: most tests wait for one child process. The long ones have the machine alone."""
    if "--long" in arguments or "-n" in arguments:
        return []
    return ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder"]  # else the longest single tests come last


def main(arguments: list[str]) -> int:
    """The command line; returns pytest's exit code, or 1 where it did not come to it."""
    began = time.perf_counter()
    try:
        get_packages()
        ready_environment(["test"])
    except SetupError as exc:
        said(str(exc))
        return 1
    if "--setup-only" in arguments:
        return 0
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a thousand processes would each compile the package anew
    code = exit_code_of([str(PYTHON), "-m", "pytest", *side_by_side(arguments), *arguments])
    said(f"tests and their set-up took {clock(time.perf_counter() - began)}")
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
