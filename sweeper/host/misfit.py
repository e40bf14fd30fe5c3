"""Why a plugin file cannot be loaded on this machine, in words, found without loading it."""

from __future__ import annotations

import mmap
import re
from pathlib import Path
from typing import NamedTuple

from sweeper.host.binary import Target, built_for, this_machine

VST2_SUFFIXES = (".vst", ".dll", ".so")
#: Folder inside a VST3 bundle for each system and processor (VST3 plug-in format structure, Steinberg's
#: developer documentation, "Locations / Format"). That of macOS holds files for any of its processors.
_FOLDERS = {
    "x86_64-linux": Target("Linux", "x86-64"), "aarch64-linux": Target("Linux", "ARM64"),
    "armv7l-linux": Target("Linux", "ARM"), "i386-linux": Target("Linux", "x86"),
    "x86_64-win": Target("Windows", "x86-64"), "arm64-win": Target("Windows", "ARM64"),
    "arm64ec-win": Target("Windows", "ARM64"), "arm64x-win": Target("Windows", "ARM64"),
    "x86-win": Target("Windows", "x86"), "MacOS": Target("macOS", ""),
}  # fmt: skip


class Misfit(NamedTuple):
    """what: completes "it is ..."; "" = nothing speaks against loading it. remedy: what to do about it."""

    what: str
    remedy: str = ""


VST2 = Misfit("a VST2", "VST2 plugins cannot be hosted: install the VST3 of it")
INSTRUMENT = Misfit("an instrument, not an effect", "take it out of the chain: a chain takes effects only")
_BROKEN = "install it again"


def misfit(path: Path) -> Misfit:
    """What speaks against loading the VST3 or AU at `path` here."""
    here = this_machine()
    if path.suffix.lower() in VST2_SUFFIXES:
        return VST2
    if path.is_file():
        return _single_file(path, here)
    if path.suffix.lower() == ".component" and here.system != "macOS":
        return Misfit("an Audio Unit; they run on macOS only", "install the VST3 of it")
    if not (path / "Contents").is_dir():
        return Misfit("a broken bundle: there is no Contents folder in it", _BROKEN)
    return _bundle(path, here)


def _bundle(path: Path, here: Target) -> Misfit:
    there = [_FOLDERS[name] for name in sorted(_names_in(path / "Contents")) if name in _FOLDERS]
    if not there:
        return Misfit("a broken bundle: there is no program in it", _BROKEN)
    if not any(target.system == here.system and target.processor in ("", here.processor) for target in there):
        return _for_another(there, here)
    return _program(program_of(path), here)


def _names_in(contents: Path) -> list[str]:
    """The folders that are not empty."""
    return [folder.name for folder in contents.iterdir() if folder.is_dir() and any(folder.iterdir())]


def _program(file: Path, here: Target) -> Misfit:
    """What the first bytes of the program itself say."""
    try:
        found = built_for(file)
    except OSError as exc:
        return Misfit(f"unreadable: {file.name}: {exc.strerror or exc}", "check who may read it")
    if not found:
        return Misfit(f"a broken bundle: {file.name} in it is no program", _BROKEN)
    return Misfit("") if here in found else _for_another(list(found), here)


def _single_file(path: Path, here: Target) -> Misfit:
    if here.system == "Windows":
        return _program(path, here)
    try:
        targets = ", ".join(map(str, built_for(path)))
    except OSError:
        targets = ""
    said = f" built for {targets}" if targets else ""
    return Misfit(f"a single file{said}; on {here.system} a VST3 is a folder", f"install the version for {here}")


def _for_another(found: list[Target], here: Target) -> Misfit:
    names = ", ".join(dict.fromkeys(map(str, found)))
    if any(target.system == here.system for target in found):
        remedy = f"install the version for {here}"
        if here == Target("macOS", "ARM64"):
            remedy += ", or run sweeper with a Python for x86-64, which macOS translates"
        return Misfit(f"built for another processor ({names}); this machine is {here}", remedy)
    return Misfit(f"built for another system ({names}); this one is {here}", f"install the version for {here}")


def program_of(path: Path) -> Path:
    """The file of the bundle that holds the plugin's code here; the path itself where it is a file already."""
    if path.is_file():
        return path
    here = this_machine()
    wanted = [name for name, target in _FOLDERS.items() if target in (here, Target(here.system, ""))]
    files = [p for name in wanted for p in sorted((path / "Contents" / name).glob("*")) if p.is_file()]
    return next((p for p in files if p.stem == path.stem), files[0] if files else path)


def is_vst2(path: Path) -> bool:
    """Whether a file or folder that lies loose among plugins is a VST2, and not a library that somebody needs.

    The entry point of a VST2 is called VSTPluginMain (from memory); on macOS .vst says it.
    """
    if path.suffix.lower() == ".vst":
        return True
    if path.suffix.lower() not in VST2_SUFFIXES:
        return False
    try:
        with path.open("rb") as handle, mmap.mmap(handle.fileno(), 0, access=mmap.ACCESS_READ) as code:
            return code.find(b"VSTPluginMain") >= 0
    except (OSError, ValueError):
        return False


def vst2_name(path: Path) -> str:
    """What a VST2 file is called without the usual ending of its name: "Warm Comp-vst.so" is Warm Comp."""
    return re.sub(r"[-_. ]?vst2?$", "", path.stem, flags=re.IGNORECASE) or path.stem
