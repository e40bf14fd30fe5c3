"""The project's own Python environment, `.venv`: made once, used again until what it depends on changes.

Standard library only. `demo/run.py` and `tests/run.py` import it, after they have checked Python's version.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".venv"
STAMP = FOLDER / "installed.txt"
PROGRAMS = FOLDER / ("Scripts" if os.name == "nt" else "bin")
ENDING = ".exe" if os.name == "nt" else ""
PYTHON = PROGRAMS / f"python{ENDING}"
SWEEPER = PROGRAMS / f"sweeper{ENDING}"


class SetupError(Exception):
    """Something stands in the way; the message says what, and what to do."""


def ready_environment(extras: Sequence[str] = ()) -> Path:
    """The environment's Python, with the package and its extras installed. Raises SetupError.

    The stamp is written last: an environment whose making was broken off has none, and is completed.
    """
    if _complete(extras):
        return PYTHON
    wanted = sorted({*extras, *_stamped_extras()})
    if not _runs():
        _make()
    package = f"{ROOT}[{','.join(wanted)}]" if wanted else str(ROOT)
    said("installing sweeper and what it needs into .venv; a minute or two the first time")
    STAMP.unlink(missing_ok=True)
    pip = [str(PYTHON), "-m", "pip", "--disable-pip-version-check", "install", "--editable", package]
    quietly(pip, "the packages could not be installed (pip's own words stand above): is the internet reachable?")
    STAMP.write_text("\n".join([_fingerprint(), *wanted]) + "\n", encoding="utf-8")
    return PYTHON


def said(words: str) -> None:
    """A line on stderr, at once."""
    print(words, file=sys.stderr, flush=True)


def quietly(command: Sequence[str], remedy: str) -> None:
    """Run a command without showing what it says, unless it fails. Raises SetupError with the remedy."""
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace")
    if done.returncode != 0:
        said(done.stdout.rstrip())
        raise SetupError(f"{remedy}\n    {' '.join(command)}\n    ended with exit code {done.returncode}")


def exit_code_of(command: Sequence[str]) -> int:
    """Run a command in the project's folder, its output passed through; Ctrl-C is left to the command."""
    process = subprocess.Popen(command, cwd=ROOT)
    while True:
        try:
            code = process.wait()
        except KeyboardInterrupt:
            continue
        return code if code >= 0 else 128 - code


def clock(duration_s: float) -> str:
    """A duration as it is said: 8 s, or 2 min 05 s."""
    minutes, rest_s = divmod(round(duration_s), 60)
    return f"{minutes} min {rest_s:02d} s" if minutes else f"{rest_s} s"


def may_install_packages() -> bool:
    """Whether this is a Debian-like system and we are root on it."""
    return shutil.which("apt-get") is not None and hasattr(os, "geteuid") and os.geteuid() == 0


def apt_install(packages: Sequence[str]) -> None:
    """Install Debian packages, without what they merely recommend. Raises SetupError."""
    said(f"installing by apt-get: {' '.join(packages)}")
    quietly(["apt-get", "update"], "the list of Debian packages could not be fetched: is the internet reachable?")
    command = ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "install", "-y", "--no-install-recommends"]
    quietly([*command, *packages], "apt-get could not install what is needed (its own words stand above)")


def _complete(extras: Sequence[str]) -> bool:
    lines = _stamp_lines()
    return bool(lines) and lines[0] == _fingerprint() and set(extras) <= set(lines[1:]) and _runs()


def _stamped_extras() -> list[str]:
    return _stamp_lines()[1:]


def _stamp_lines() -> list[str]:
    return STAMP.read_text(encoding="utf-8").splitlines() if STAMP.is_file() else []


def _fingerprint() -> str:
    """What the environment depends on: the list of what is needed, where the package lies, and Python."""
    depends_on = (ROOT / "pyproject.toml").read_bytes() + f"{ROOT}\n{sys.version_info[:2]}".encode()
    return hashlib.sha256(depends_on).hexdigest()


def _runs() -> bool:
    """Whether the environment's Python is there, works, has pip, and is of our version."""
    if not PYTHON.exists():
        return False
    question = f"import pip, sys; sys.exit(sys.version_info[:2] != {tuple(sys.version_info[:2])})"
    try:
        return subprocess.run([str(PYTHON), "-c", question], stderr=subprocess.DEVNULL).returncode == 0
    except OSError:
        return False  # what it was made from has been removed


def _make() -> None:
    if any(importlib.util.find_spec(module) is None for module in ("venv", "ensurepip")):
        _get_venv()
    said("making a Python environment in .venv")
    command = [sys.executable, "-m", "venv", "--clear", str(FOLDER)]
    quietly(command, "the Python environment could not be made: delete the folder .venv and try again")


def _get_venv() -> None:
    """Debian and Ubuntu deliver Python without the part that makes environments."""
    package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
    if may_install_packages():
        apt_install([package])
        return
    raise SetupError(
        "this Python cannot make environments: its modules 'venv' and 'ensurepip' are missing\n"
        f"    on Debian or Ubuntu: sudo apt-get install {package}\n"
        "    elsewhere: install Python 3.11 or later from python.org"
    )
