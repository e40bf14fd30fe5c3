"""What a plugin bundle says of itself on disk, without loading it."""

from __future__ import annotations

import json
import platform
import plistlib
import re
from dataclasses import dataclass
from pathlib import Path

#: Folder inside a VST3 bundle for each system and processor (VST3 plug-in format structure, Steinberg's
#: developer documentation, "Locations / Format").
_ARCHITECTURES = {"Linux": {"x86_64": "x86_64-linux", "aarch64": "aarch64-linux", "armv7l": "armv7l-linux",
                            "i686": "i386-linux"},
                  "Windows": {"AMD64": "x86_64-win", "ARM64": "arm64-win", "x86": "x86-win"},
                  "Darwin": {"x86_64": "MacOS", "arm64": "MacOS"}}  # fmt: skip


@dataclass(frozen=True)
class Installed:
    """A plugin found on this machine. names: one, or several for a bundle that holds several plugins.

    fault: why it cannot be loaded here, "" when nothing speaks against it.
    """

    name: str
    path: Path
    format: str
    maker: str
    version: str
    names: tuple[str, ...]
    fault: str


def look_into(path: Path) -> Installed:
    """Describe the VST3 or AU at `path` from its folder and the text files in it."""
    name, maker, version = path.stem, "", ""
    names: tuple[str, ...] = ()
    info = _module_info(path)
    if info is not None:
        name, maker, version, names = info
    elif (path / "Contents" / "Info.plist").is_file():
        name, version = _info_plist(path)
    kind = "AU" if path.suffix == ".component" else "VST3"
    return Installed(name, path, kind, maker, version, names or (name,), _fault(path))


def _module_info(path: Path) -> tuple[str, str, str, tuple[str, ...]] | None:
    for place in ("Contents/Resources/moduleinfo.json", "Contents/moduleinfo.json"):
        file = path / place
        if not file.is_file():
            continue
        try:
            text = re.sub(r",(\s*[}\]])", r"\1", file.read_text("utf-8"))
            data = json.loads(re.sub(r"^\s*//.*$", "", text, flags=re.MULTILINE))
            classes = [c for c in data.get("Classes", []) if c.get("Category") == "Audio Module Class"]
            names = tuple(str(c["Name"]) for c in classes)
            maker = str(data.get("Factory Info", {}).get("Vendor", ""))
            version = str(data.get("Version", ""))
        except (OSError, ValueError, KeyError, AttributeError, TypeError):
            return None
        return (names[0] if len(names) == 1 else path.stem), maker, version, names
    return None


def _info_plist(path: Path) -> tuple[str, str]:
    try:
        data = plistlib.loads((path / "Contents" / "Info.plist").read_bytes())
    except (OSError, ValueError, plistlib.InvalidFileException):
        return path.stem, ""
    return path.stem, str(data.get("CFBundleShortVersionString", data.get("CFBundleVersion", "")))


def _fault(path: Path) -> str:
    if path.is_file():
        return "" if platform.system() == "Windows" else "a single file; on this system a VST3 is a folder"
    if path.suffix == ".component":
        return "" if platform.system() == "Darwin" else "an Audio Unit; they run on macOS only"
    contents = path / "Contents"
    if not contents.is_dir():
        return "a broken bundle: there is no Contents folder in it"
    wanted = _ARCHITECTURES.get(platform.system(), {}).get(platform.machine())
    present = sorted(p.name for p in contents.iterdir() if p.is_dir() and any(p.iterdir()))
    built_for = [name for name in present if name == "MacOS" or name.endswith(("-linux", "-win"))]
    if not built_for:
        return "a broken bundle: there is no program in it"
    if wanted is not None and wanted not in built_for:
        return f"built for another system ({', '.join(built_for)}); this one needs {wanted}"
    return ""


def program_of(path: Path) -> Path:
    """The file of the bundle that holds the plugin's code; the path itself where it is a file already."""
    if path.is_file():
        return path
    wanted = _ARCHITECTURES.get(platform.system(), {}).get(platform.machine(), "")
    files = sorted(p for p in (path / "Contents" / wanted).glob("*") if p.is_file())
    return next((p for p in files if p.stem == path.stem), files[0] if files else path)
