"""A processor: which plugin, hearing what, set how; of a stage, or one of a stage's alternatives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from sweeper.chain.document import Node
from sweeper.chain.embedding import (
    check_instances,
    read_blend,
    read_instances,
    read_inverted,
    read_latency,
    read_tail_s,
)
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.handles import read_handle
from sweeper.chain.mixes import find_file
from sweeper.chain.model import TRIMS, Assignment, Channels, Handle, Stage
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.own_settings import TRIM_RANGE
from sweeper.chain.settings import read_settings
from sweeper.chain.shapes import Field, single
from sweeper.chain.values import read_amount

BUILTIN = "builtin:"
PLUGIN_FILES = (".vst3", ".component")


def read_processor(node: Node, known: Mapping[str, Field], bare: Stage, folder: Path, faults: Faults) -> Stage:
    """The stage `bare` with the plugin that `known` names, and how it is set.

    node: where the processor stands. bare: gives what is said of the stage as a whole; its channels, trims, blend,
    tail and instances hold where `known` says nothing.
    """
    stage = read_signal(known, bare, faults)
    settings, trims_db = _settings(known, stage, faults)
    check_instances(known, stage, node.mark, faults)
    return replace(
        stage,
        plugin=_plugin(node, known, bare.label, faults),
        state=find_file(known["state"].value, "state", folder, faults)[0] if "state" in known else None,
        settings=settings,
        handles=_handles(known, faults),
        input_trim_db=trims_db["input trim"],
        output_trim_db=trims_db["output trim"],
        latency=read_latency(known["latency"], faults) if "latency" in known else None,
        inverted=read_inverted(known["polarity"], faults) if "polarity" in known else False,
        plugin_mark=known["plugin"].value.mark if "plugin" in known else node.mark,
    )


def read_signal(known: Mapping[str, Field], bare: Stage, faults: Faults) -> Stage:
    """The stage `bare` with what stands beside its plugin and may be said for several at once."""
    return replace(
        bare,
        channels=_channels(known["channels"], faults) if "channels" in known else bare.channels,
        input_trim_db=_trim_db(known.get("input trim"), bare.input_trim_db, faults),
        output_trim_db=_trim_db(known.get("output trim"), bare.output_trim_db, faults),
        blend=read_blend(known["blend"], faults) if "blend" in known else bare.blend,
        tail_s=read_tail_s(known["tail"], faults) if "tail" in known else bare.tail_s,
        instances=read_instances(known["instances"], faults) if "instances" in known else bare.instances,
    )


def short_name(plugin: str) -> str:
    """A plugin's name without folder, ending or "builtin:", in the case as written."""
    bare = plugin[len(BUILTIN) :] if plugin.casefold().startswith(BUILTIN) else plugin
    for ending in PLUGIN_FILES:
        if bare.casefold().endswith(ending):
            bare = bare.replace("\\", "/").rsplit("/", 1)[-1][: -len(ending)]
    return bare.strip()


def plugin_text(known: Mapping[str, Field], faults: Faults) -> str:
    """The plugin as written; "" where none is."""
    return single(known["plugin"].value, "plugin", faults, "write the plugin's name") or "" if "plugin" in known else ""


def _plugin(node: Node, known: Mapping[str, Field], label: str, faults: Faults) -> str:
    if "plugin" not in known:
        what = "this alternative" if label else "this stage"
        faults.add(node.mark, f"{what} names no plugin", "add plugin: NAME; `sweeper plugins` lists them")
    plugin = plugin_text(known, faults)
    if plugin.casefold() == BUILTIN:
        faults.add(known["plugin"].value.mark, f"'{plugin}' names no effect", "write e.g. builtin:Compressor")
    return plugin


def _channels(field: Field, faults: Faults) -> Channels:
    text = single(field.value, "channels", faults)
    if text is None:
        return Channels.STEREO
    written = "".join(text.split()).casefold()
    for channels in Channels:
        if written == channels.value:
            return channels
    faults.add(field.value.mark, f"channels is {quoted(text)}", suggestion(written, [each.value for each in Channels]))
    return Channels.STEREO


def _handles(known: Mapping[str, Field], faults: Faults) -> tuple[Handle, ...]:
    found = (read_handle(known[name], faults) for name in ("drive", "ceiling") if name in known)
    return tuple(handle for handle in found if handle is not None)


def _settings(
    known: Mapping[str, Field], stage: Stage, faults: Faults
) -> tuple[tuple[Assignment, ...], dict[str, float]]:
    """The plugin's settings, and the trims, which may stand beside them or among them."""
    trims_db = dict(zip(TRIMS, (stage.input_trim_db, stage.output_trim_db), strict=True))
    if "settings" not in known:
        return (), trims_db
    settings, inner = read_settings(known["settings"].value, stage.channels, faults)
    for name, field in inner.items():
        if name in known:
            faults.add(field.mark, f"'{name}' stands twice; first on line {known[name].mark.line}", KEEP_ONE)
        trims_db[name] = _trim_db(field, trims_db[name], faults)
    return settings, trims_db


def _trim_db(field: Field | None, beside_db: float, faults: Faults) -> float:
    if field is None:
        return beside_db
    value = read_amount(field.value, field.name, "dB", faults)
    if value is None:
        return 0.0
    if not TRIM_RANGE.low <= value <= TRIM_RANGE.high:
        faults.add(field.value.mark, f"{field.name} of {value:g} dB is beyond reason",
                   f"write {TRIM_RANGE.low:g} dB to {TRIM_RANGE.high:g} dB")
    return value
