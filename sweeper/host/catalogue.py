"""The plugins installed on this machine, found without loading any."""

from __future__ import annotations

import difflib
import os
import platform
from pathlib import Path

from sweeper.errors import PluginMissing
from sweeper.host.builtin_table import BY_NAME, PREFIX
from sweeper.host.bundle import Installed, look_into
from sweeper.units import folded

SUFFIXES = (".vst3", ".component")


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


def installed() -> tuple[Installed, ...]:
    """Every plugin in the standard folders, by name. The first of two with one name and format wins."""
    found: dict[tuple[str, str], Installed] = {}
    for folder in standard_folders():
        for path in _bundles(folder):
            plugin = look_into(path)
            found.setdefault((plugin.name, plugin.format), plugin)
    return tuple(sorted(found.values(), key=lambda p: (p.name.lower(), bool(p.fault), p.format != "VST3")))


def _bundles(folder: Path) -> list[Path]:
    try:
        entries = sorted(folder.iterdir())
    except OSError:
        return []
    bundles = []
    for entry in entries:
        if entry.suffix.lower() in SUFFIXES:
            bundles.append(entry)
        elif entry.is_dir() and not entry.is_symlink():
            bundles.extend(_bundles(entry))
    return bundles


def find(plugin: str, folder: Path) -> str:
    """The path of the plugin that a chain file names, or "builtin:NAME".

    plugin: a name found on this machine (case and spaces forgiven), a path (relative to `folder`), or
    "builtin:NAME". Raises PluginMissing with the nearest names, or with what speaks against loading it.
    """
    if plugin.lower().startswith(PREFIX):
        return _builtin(plugin)
    candidates = installed()
    if plugin.lower().endswith(SUFFIXES) or "/" in plugin or "\\" in plugin:
        path = folder / Path(plugin).expanduser()
        if not path.exists():
            raise PluginMissing(f"there is no plugin at {path}", _suggestion(plugin, candidates))
        chosen = look_into(path.resolve())
    else:
        chosen = _by_name(plugin, candidates)
    if chosen.fault:
        raise PluginMissing(f"'{chosen.name}' cannot be loaded: it is {chosen.fault}", f"it lies at {chosen.path}")
    return str(chosen.path)


def _by_name(plugin: str, candidates: tuple[Installed, ...]) -> Installed:
    for key in (str, folded):
        for candidate in candidates:
            if key(plugin) in (key(candidate.name), key(candidate.path.stem)):
                return candidate
            if len(candidate.names) > 1 and key(plugin) in map(key, candidate.names):
                raise PluginMissing(
                    f"'{plugin}' lies in {candidate.path.name} together with {len(candidate.names) - 1} others",
                    "bundles that hold several plugins are not supported in this version",
                )
    where = ", ".join(str(f) for f in standard_folders())
    if plugin.lower().endswith((".dll", ".vst", ".so")):
        raise PluginMissing(f"'{plugin}' is not a VST3", "older formats cannot be hosted; install the VST3 of it")
    raise PluginMissing(f"no plugin is called '{plugin}'", _suggestion(plugin, candidates) + f"; looked in {where}")


def _suggestion(plugin: str, candidates: tuple[Installed, ...]) -> str:
    names = {folded(c.name): c.name for c in candidates} | {folded(n): PREFIX + n for n in BY_NAME}
    near = difflib.get_close_matches(folded(Path(plugin).stem), names, n=3, cutoff=0.5)
    if not near:
        return "`sweeper plugins` lists what is installed"
    return "did you mean " + " or ".join(f"'{names[n]}'" for n in near) + "?"


def _builtin(plugin: str) -> str:
    wanted = folded(plugin[len(PREFIX) :])
    for name in BY_NAME:
        if folded(name) == wanted:
            return PREFIX + name
    near = difflib.get_close_matches(wanted, {folded(n): n for n in BY_NAME}, n=1, cutoff=0.5)
    offered = next((n for n in BY_NAME if near and folded(n) == near[0]), None)
    remedy = f"did you mean '{PREFIX}{offered}'?" if offered else "there are: " + ", ".join(BY_NAME)
    raise PluginMissing(f"there is no built-in effect '{plugin[len(PREFIX):]}'", remedy)
