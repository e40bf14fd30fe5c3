"""The catalogue on the terminal and as JSON: what is installed, and what is known of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rich.markup import escape
from rich.table import Table

from sweeper.cli.lines import columns
from sweeper.cli.streams import err, out
from sweeper.host.builtin_table import BUILTINS, PREFIX
from sweeper.host.bundle import Installed
from sweeper.host.catalogue import installed, known_of
from sweeper.host.folders import standard_folders
from sweeper.host.remembered import remembered
from sweeper.host.tried import Loads, Quarantined, Tried


@dataclass(frozen=True)
class _Line:
    """A plugin in a line. kind: what sort of effect. problem: why it cannot be used; it stands below the table then."""

    name: str
    format: str
    maker: str = ""
    kind: str = ""
    channels: str = ""
    where: str = ""
    problem: str = ""


def catalogue_data() -> dict[str, object]:
    """The catalogue for `plugins --json`."""
    known = remembered()
    return {
        "schema": 1,
        "folders": [str(folder) for folder in standard_folders()],
        "installed": [_installed_data(plugin, known) for plugin in installed()],
        "builtin": [{"name": PREFIX + b.name, "category": b.category, "note": b.note or None} for b in BUILTINS],
    }


def _installed_data(plugin: Installed, known: Mapping[str, Tried]) -> dict[str, object]:
    tried = known_of(plugin, known)
    return {
        "name": plugin.name, "path": str(plugin.path), "format": plugin.format, "maker": plugin.maker or None,
        "version": plugin.version or None, "contains": list(plugin.names), "instruments": list(plugin.instruments),
        "fault": plugin.fault or None, "remedy": plugin.remedy or None, "note": plugin.note or None,
        "loaded": None if tried is None else [dataclasses.asdict(one) for one in tried.loads],
        "quarantined": None if tried is None else [dataclasses.asdict(one) for one in tried.quarantined],
    }  # fmt: skip


def show_catalogue() -> None:
    """Every installed plugin, the built-in effects, and what cannot be used. Empty columns are left out."""
    found, known = installed(), remembered()
    lines = [line for plugin in found for line in _lines(plugin, known_of(plugin, known))]
    out().print(_table([line for line in lines if not line.problem]))
    bad = [line for line in lines if line.problem]
    if bad:
        out().print("\ncannot be used:")
    for line in bad:
        out().print(f"  {escape(line.name)} ({line.format}): [red]{escape(line.problem)}[/red]", soft_wrap=True)
    if not found:
        folders = "\n    ".join(str(folder) for folder in standard_folders())
        err().print(f"no plugin is installed in\n    {escape(folders)}", soft_wrap=True)


def _table(lines: list[_Line]) -> Table:
    lines = lines + [_Line(PREFIX + builtin.name, "built in", kind=builtin.category) for builtin in BUILTINS]
    fields = {"plugin": "name", "format": "format", "maker": "maker", "type": "kind", "channels": "channels",
              "where": "where"}  # fmt: skip
    shown = {heading: name for heading, name in fields.items() if any(getattr(line, name) for line in lines)}
    table = columns(*shown)
    for line in lines:
        table.add_row(*(escape(getattr(line, name)) for name in shown.values()))
    return table


def _lines(plugin: Installed, tried: Tried | None) -> Iterator[_Line]:
    """A line for each plugin in a file, with what is known of it."""
    problem = _told(f"it is {plugin.fault}", plugin.remedy, plugin) if plugin.fault else ""
    if problem or tried is None:
        for name in plugin.names:
            yield _Line(name, plugin.format, plugin.maker, where=_where(plugin), problem=problem)
        return
    for one in tried.loads:
        name = plugin.name if len(tried.names) <= 1 else one.name
        channels = {1: "mono", 2: "stereo"}[one.channels]
        yield _Line(name, plugin.format, one.maker, kind_word(one), channels, _where(plugin))
    for bad in tried.quarantined:
        problem = _told(f"quarantined: {reason(bad)}", bad.remedy, plugin)
        yield _Line(bad.name or plugin.name, plugin.format, plugin.maker, problem=problem)


def _told(fault: str, remedy: str, plugin: Installed) -> str:
    """What is wrong with a plugin, what to do about it, and where it lies."""
    return "; ".join(part for part in (fault, remedy, f"it lies at {plugin.path}") if part)


def _where(plugin: Installed) -> str:
    place = plugin.path if len(plugin.names) > 1 else plugin.path.parent
    return f"{place} ({plugin.note})" if plugin.note else str(place)


def kind_word(loads: Loads) -> str:
    """A plugin's own word for what it is, without what goes without saying: "Fx|Dynamics" is dynamics."""
    words = [word.lower() for word in loads.category.split("|") if word.lower() not in ("fx", "effect", "")]
    return "" if loads.category == "Audio Module Class" else ", ".join(words)


def reason(bad: Quarantined) -> str:
    """Why a plugin is quarantined; of one that took its process along, with the last it said."""
    return bad.what + (f"; it last said: {bad.said}" if bad.said and bad.cause != "refused" else "")


def show_loaded(plugin: Installed, tried: Tried) -> str:
    """What came of loading one file, in a line of markup."""
    told = [f"{one.name}: loads, {one.settings} settings, {one.seconds:.1f} s" for one in tried.loads]
    words = escape("; ".join(told)) if told else ""
    bad = "; ".join(f"{one.name or plugin.name}: {reason(one)}" for one in tried.quarantined)
    return words + (f"[red]{'; ' if words else ''}{escape(bad)}[/red]" if bad else "")
