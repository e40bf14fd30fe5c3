"""The stages of a chain: which plugin, hearing what, set how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.handles import read_handle
from sweeper.chain.mixes import find_file
from sweeper.chain.model import TRIMS, Assignment, Channels, Handle, Stage
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.settings import read_settings
from sweeper.chain.shapes import Field, fields, folded, listed, single
from sweeper.chain.values import read_amount, read_switch

BUILTIN = "builtin:"
PLUGIN_FILES = (".vst3", ".component")
LOUDEST_TRIM_DB = 60.0  # beyond it only a slip of the keyboard asks


@dataclass(frozen=True)
class StageNames:
    """The stages by folded name. complete: every stage that could be named is there."""

    stages: Mapping[str, Stage]
    complete: bool


def read_stages(node: Node, output: bool, folder: Path, faults: Faults) -> tuple[Stage, ...]:
    """Every stage of `inserts` or `output`. Faulty ones come back too, so that names stay known."""
    what = "output" if output else "inserts"
    return tuple(_stage(item, output, folder, faults) for item in listed(node, what, faults))


def stage_names(stages: tuple[Stage, ...], faults: Faults) -> StageNames:
    """The stages by name; two of the same name are a fault."""
    found: dict[str, Stage] = {}
    for stage in stages:
        if not stage.name:
            continue
        first = found.setdefault(folded(stage.name), stage)
        if first is not stage:
            what = f"two stages are called {quoted(stage.name)}; first on line {first.mark.line}"
            faults.add(stage.mark, what, "give one of them another 'name:'")
    return StageNames(found, all(stage.name for stage in stages))


def _stage(node: Node, output: bool, folder: Path, faults: Faults) -> Stage:
    if node.pairs is None:
        remedy = "write plugin: NAME, and its settings below that"
        faults.add(node.mark, f"a stage is {node.kind}, not a mapping", remedy)
        return Stage("", "", None, Channels.STEREO, (), (), 0.0, 0.0, False, output, node.mark, node.mark)
    known = fields(node, "stage", "a stage", faults)
    plugin = _plugin(node, known, faults)
    name = _name(node, plugin, known, faults)
    channels = _channels(known.get("channels"), faults)
    settings, trims = _settings(known, channels, faults)
    return Stage(
        name=name,
        plugin=plugin,
        state=find_file(known["state"].value, "state", folder, faults)[0] if "state" in known else None,
        channels=channels,
        settings=settings,
        handles=_handles(known, faults),
        input_trim_db=trims["input trim"],
        output_trim_db=trims["output trim"],
        bypass="bypass" in known and bool(read_switch(known["bypass"].value, "bypass", faults)),
        output=output,
        mark=known["name"].value.mark if "name" in known else node.mark,
        plugin_mark=known["plugin"].value.mark if "plugin" in known else node.mark,
    )


def _plugin(node: Node, known: Mapping[str, Field], faults: Faults) -> str:
    if "plugin" not in known:
        if "any of" not in known:
            faults.add(node.mark, "this stage names no plugin",
                       "add plugin: NAME; `sweeper plugins` lists them")
        return ""
    field = known["plugin"]
    plugin = single(field.value, "plugin", faults, "write the plugin's name") or ""
    if plugin.casefold() == BUILTIN:
        faults.add(field.value.mark, f"'{plugin}' names no effect", "write e.g. builtin:Compressor")
    return plugin


def _name(node: Node, plugin: str, known: Mapping[str, Field], faults: Faults) -> str:
    """The stage's name; without one, the plugin's."""
    if "name" in known:
        mark = known["name"].value.mark
        name = single(known["name"].value, "name", faults) or ""
    else:
        mark, name = node.mark, default_name(plugin)
    if "." in name:
        remedy = "write it without dots" if "name" in known else "add a 'name:' without dots"
        faults.add(mark, f"the stage's name {quoted(name)} has a dot in it", remedy)
    return name


def default_name(plugin: str) -> str:
    """The name of a stage that has none of its own: "builtin:Compressor" is "compressor"."""
    bare = plugin[len(BUILTIN) :] if plugin.casefold().startswith(BUILTIN) else plugin
    for ending in PLUGIN_FILES:
        if bare.casefold().endswith(ending):
            bare = bare.replace("\\", "/").rsplit("/", 1)[-1][: -len(ending)]
    return bare.strip().lower()


def _channels(field: Field | None, faults: Faults) -> Channels:
    text = single(field.value, "channels", faults) if field else None
    if field is None or text is None:
        return Channels.STEREO
    written = "".join(text.split()).casefold()
    for channels in Channels:
        if written == channels.value:
            return channels
    faults.add(field.value.mark, f"channels is {quoted(text)}",
               suggestion(written, [each.value for each in Channels]))
    return Channels.STEREO


def _handles(known: Mapping[str, Field], faults: Faults) -> tuple[Handle, ...]:
    found = (read_handle(known[name], faults) for name in ("drive", "ceiling") if name in known)
    return tuple(handle for handle in found if handle is not None)


def _settings(
    known: Mapping[str, Field], channels: Channels, faults: Faults
) -> tuple[tuple[Assignment, ...], dict[str, float]]:
    """The plugin's settings, and the trims, which may stand beside them or among them."""
    trims = {name: known[name] for name in TRIMS if name in known}
    settings: tuple[Assignment, ...] = ()
    if "settings" in known:
        settings, inner = read_settings(known["settings"].value, channels, faults)
        for name, field in inner.items():
            if name in trims:
                first_line = trims[name].mark.line
                faults.add(field.mark, f"'{name}' stands twice; first on line {first_line}", KEEP_ONE)
            trims.setdefault(name, field)
    return settings, {name: _trim_db(trims.get(name), faults) for name in TRIMS}


def _trim_db(field: Field | None, faults: Faults) -> float:
    value = read_amount(field.value, field.name, "dB", faults) if field else None
    if field is None or value is None:
        return 0.0
    if abs(value) > LOUDEST_TRIM_DB:
        faults.add(field.value.mark, f"{field.name} of {value:g} dB is beyond reason",
                   f"write -{LOUDEST_TRIM_DB:g} dB to {LOUDEST_TRIM_DB:g} dB")
    return value
