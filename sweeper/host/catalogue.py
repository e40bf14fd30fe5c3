"""The plugins installed on this machine, found without loading any."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from sweeper.errors import PluginMissing
from sweeper.host.builtin_table import BY_NAME, PREFIX
from sweeper.host.bundle import Installed, look_into, program_of
from sweeper.host.folders import files_in, standard_folders, vst2_folders
from sweeper.host.misfit import INSTRUMENT, VST2, VST2_SUFFIXES, vst2_name
from sweeper.host.place import SUFFIXES, joined, parted
from sweeper.host.remembered import looks_unchanged, remembered
from sweeper.host.tried import Tried
from sweeper.units import folded

_FORMATS = ("VST3", "AU", "VST2")
_MOST_NAMES = 12


def installed() -> tuple[Installed, ...]:
    """Every plugin file in the standard folders, by name. Of two with one name and format the first that is usable.

    What a file holds that does not say so itself is known if it was ever loaded.
    """
    known = remembered()
    found: dict[tuple[str, str], Installed] = {}
    for folder in standard_folders():
        for path in files_in(folder):
            plugin = _with_names(look_into(path), known)
            first = found.get((plugin.name, plugin.format))
            if first is None or (first.fault and not plugin.fault):
                found[(plugin.name, plugin.format)] = plugin
    return tuple(sorted(found.values(), key=lambda p: (p.name.lower(), bool(p.fault), _FORMATS.index(p.format))))


def known_of(plugin: Installed, known: Mapping[str, Tried]) -> Tried | None:
    """What came of loading it, as long as its program looks as it did then."""
    tried = known.get(str(plugin.path))
    return tried if tried is not None and looks_unchanged(tried.program, program_of(plugin.path)) else None


def _with_names(plugin: Installed, known: Mapping[str, Tried]) -> Installed:
    if plugin.names_told or (tried := known_of(plugin, known)) is None or not tried.names:
        return plugin
    return replace(plugin, names=tried.names)


def find(plugin: str, folder: Path) -> str:
    """The place of the plugin that a chain file names, or "builtin:NAME".

    plugin: a name found on this machine (case and spaces forgiven), a path (relative to `folder`), "PATH::NAME" for one
    of several in a file, or "builtin:NAME". Raises PluginMissing with the nearest names, or with what speaks against
    loading it.
    """
    if plugin.lower().startswith(PREFIX):
        return _builtin(plugin)
    candidates = installed()
    file, inner = parted(plugin)
    names = {folded(name) for candidate in candidates for name in candidate.names + candidate.instruments}
    if folded(plugin) in names or not _is_path(file):
        return _by_name(plugin, candidates)
    return _chosen(_at(file, folder, candidates), inner)


def _is_path(file: str) -> bool:
    return file.lower().endswith((*SUFFIXES, *VST2_SUFFIXES)) or "/" in file or "\\" in file


def _at(file: str, folder: Path, candidates: tuple[Installed, ...]) -> Installed:
    """What lies at a path."""
    path = folder / Path(file).expanduser()
    if path.suffix.lower() in VST2_SUFFIXES and not any(p.suffix.lower() in SUFFIXES for p in path.parents):
        raise PluginMissing(f"'{file}' is not a VST3", VST2.remedy)
    if not path.exists():
        raise PluginMissing(f"there is no plugin at {path}", _suggestion(file, candidates))
    bundle = next((parent for parent in path.parents if parent.suffix.lower() in SUFFIXES), None)
    if bundle is not None:
        raise PluginMissing(f"'{file}' is a file inside of a bundle", f"name the bundle itself: {bundle}")
    found = look_into(path.resolve())
    return next((candidate for candidate in candidates if candidate.path == found.path), found)


def _by_name(plugin: str, candidates: tuple[Installed, ...]) -> str:
    for key in (str, folded):
        for candidate in candidates:
            for name in (*candidate.names, *candidate.instruments):
                if key(plugin) == key(name):
                    return _chosen(candidate, name if len(candidate.names + candidate.instruments) > 1 else "")
            if key(plugin) in (key(candidate.name), key(candidate.path.stem)):
                return _chosen(candidate, "")
    for path in (path for folder in vst2_folders() for path in files_in(folder)):
        if path.suffix.lower() in VST2_SUFFIXES and folded(plugin) in (folded(path.stem), folded(vst2_name(path))):
            raise PluginMissing(f"'{plugin}' is installed as {VST2.what} only, at {path}", VST2.remedy)
    where = ", ".join(str(f) for f in standard_folders())
    near = _suggestion(plugin, candidates).rstrip(".")
    raise PluginMissing(f"no plugin is called '{plugin}'", f"{near} (looked in {where})")


def _chosen(found: Installed, inner: str) -> str:
    """The place of a plugin in a file. Raises PluginMissing when it cannot be loaded, or is not in it."""
    if found.fault:
        remedy = f"{found.remedy}; it lies at {found.path}" if found.remedy else f"it lies at {found.path}"
        raise PluginMissing(f"'{found.name}' cannot be loaded: it is {found.fault}", remedy)
    if inner in found.instruments:
        raise PluginMissing(f"'{inner}' cannot be loaded: it is {INSTRUMENT.what}", INSTRUMENT.remedy)
    several = len(found.names + found.instruments) > 1
    if not inner:
        if several:
            first = found.names[0]
            raise PluginMissing(f"'{found.name}' holds {len(found.names)} plugins: {_listed(found.names)}",
                                f"name one of them, as '{first}' or '{joined(str(found.path), first)}'")  # fmt: skip
        return str(found.path)
    match = next((name for key in (str, folded) for name in found.names if key(name) == key(inner)), None)
    if match is None and (several or found.names_told):
        raise PluginMissing(f"'{found.name}' holds no plugin '{inner}'; it holds {_listed(found.names)}",
                            _near(inner, {folded(name): name for name in found.names}) or "name one of those")
    return joined(str(found.path), match or inner) if several or match is None else str(found.path)


def _listed(names: tuple[str, ...]) -> str:
    more = len(names) - _MOST_NAMES
    return ", ".join(names[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def _near(wanted: str, names: dict[str, str]) -> str:
    """"did you mean ...?", or "". names: folded name -> name."""
    near = difflib.get_close_matches(folded(wanted), names, n=3, cutoff=0.5)
    return "did you mean " + " or ".join(f"'{names[n]}'" for n in near) + "?" if near else ""


def _suggestion(plugin: str, candidates: tuple[Installed, ...]) -> str:
    names = {folded(name): name for candidate in candidates for name in (candidate.name, *candidate.names)}
    names |= {folded(name): PREFIX + name for name in BY_NAME}
    return _near(Path(plugin).stem, names) or "`sweeper plugins` lists what is installed"


def _builtin(plugin: str) -> str:
    wanted = folded(plugin[len(PREFIX) :])
    for name in BY_NAME:
        if folded(name) == wanted:
            return PREFIX + name
    near = difflib.get_close_matches(wanted, {folded(n): n for n in BY_NAME}, n=1, cutoff=0.5)
    offered = next((n for n in BY_NAME if near and folded(n) == near[0]), None)
    remedy = f"did you mean '{PREFIX}{offered}'?" if offered else "there are: " + ", ".join(BY_NAME)
    raise PluginMissing(f"there is no built-in effect '{plugin[len(PREFIX):]}'", remedy)
