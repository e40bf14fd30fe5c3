"""Where plugins lie on each system, and the plugin files in a folder."""

from __future__ import annotations

import os
import platform
from pathlib import Path

from sweeper.host.misfit import VST2_SUFFIXES, is_vst2
from sweeper.host.place import SUFFIXES

#: Folders of other formats, whose libraries are theirs.
_OTHERS = (".lv2", ".clap", ".framework", ".app", ".aaxplugin")


def standard_folders() -> tuple[Path, ...]:
    """Where plugins live on this system, those of SWEEPER_PLUGIN_PATH first."""
    own = [Path(part).expanduser() for part in os.environ.get("SWEEPER_PLUGIN_PATH", "").split(os.pathsep) if part]
    home = Path.home()
    if platform.system() == "Darwin":
        roots = [home / "Library/Audio/Plug-Ins", Path("/Library/Audio/Plug-Ins")]
        folders = [root / kind for root in roots for kind in ("VST3", "Components")]
    elif platform.system() == "Windows":
        folders = [Path(os.environ.get("LOCALAPPDATA", home / "AppData/Local")) / "Programs/Common/VST3",
                   Path(os.environ.get("COMMONPROGRAMFILES", "C:/Program Files/Common Files")) / "VST3"]  # fmt: skip
    else:
        folders = [home / ".vst3", Path("/usr/lib/vst3"), Path("/usr/local/lib/vst3")]
    return tuple(own + folders)


def vst2_folders() -> tuple[Path, ...]:
    """Where VST2 plugins usually lie (common practice, no source): looked into when nothing else has a name."""
    if platform.system() == "Darwin":
        return (Path.home() / "Library/Audio/Plug-Ins/VST", Path("/Library/Audio/Plug-Ins/VST"))
    if platform.system() == "Windows":
        programs = Path(os.environ.get("PROGRAMFILES", "C:/Program Files"))
        return (programs / "VstPlugins", programs / "Steinberg/VstPlugins", programs / "Common Files/VST2")
    return (Path.home() / ".vst", Path("/usr/lib/vst"), Path("/usr/local/lib/vst"))


def files_in(folder: Path) -> list[Path]:
    """The plugin files in a folder and the folders in it; nothing where it cannot be read."""
    try:
        entries = sorted(folder.iterdir())
    except OSError:
        return []
    files = []
    for entry in entries:
        suffix = entry.suffix.lower()
        if suffix in SUFFIXES or (suffix in VST2_SUFFIXES and is_vst2(entry)):
            files.append(entry)
        elif suffix not in _OTHERS and entry.is_dir() and not entry.is_symlink():
            files.extend(files_in(entry))
    return files
