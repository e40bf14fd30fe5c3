"""New values in a chain file's text: only what changes is touched; comments, order, layout and quotes stay.

Places come from the YAML reader's own marks. What comes out is read again and must mean exactly what was intended.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

from ruamel.yaml.nodes import MappingNode, ScalarNode

from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import Faults
from sweeper.chain.model import Assignment, Chain, Mark, Stage
from sweeper.chain.reader import load_chain
from sweeper.chain.template import yaml_text
from sweeper.chain.values import setting_value
from sweeper.errors import ChainFileError, Problem

#: A new value of a setting, by its side ("" = every one) and its name as the chain file has it.
NewValues = Mapping[tuple[str, str], str]
#: What can stand without quotes, in brackets too: it neither starts nor holds anything that YAML reads as a sign.
_PLAIN = re.compile(r"[\w.+/](?:[\w.+/% -]*[\w.+/%])?|-\d(?:[\w.+/% -]*[\w.+/%])?")
_LINE_END = re.compile(r"\r\n|\r|\n")
Edit = tuple[int, int, str]


def rewritten(chain: Chain, stage: Stage, state: str, values: NewValues) -> str:
    """The chain file's text with another state of one processor, and other values of settings that it has.

    stage: one of the chain's stages, or one alternative. state: the file, as to be written; it must be there.
    Raises ChainFileError when the text cannot be changed so that it means this and nothing else (what is shared by an
    alias, say); its remedy tells what to write by hand.
    """
    document = read_document(chain.text, Faults(str(chain.path)))
    mapping = _mapping_of(document, stage) if document else None
    edits = [*_state_edit(chain.text, mapping, state), *_value_edits(mapping, stage, values)] if mapping else []
    text = _edited(chain.text, edits)
    try:
        found = load_chain(chain.path, text)
    except ChainFileError as exc:
        raise _by_hand(chain, stage, state, values) from exc
    if _unmarked(found) != _unmarked(_intended(chain, stage, state, values)):
        raise _by_hand(chain, stage, state, values)
    return text


def _mapping_of(document: Node, stage: Stage) -> Node | None:
    """The mapping that names the stage's plugin."""
    for node in _mappings(document, set()):
        for key, value in node.pairs or ():
            if key.text == "plugin" and value.mark == stage.plugin_mark:
                return node
    return None


def _mappings(node: Node, met: set[int]) -> Iterator[Node]:
    if id(node.raw) in met:
        return
    met.add(id(node.raw))
    if node.pairs is not None:
        yield node
    for child in (*(node.items or ()), *(value for _, value in node.pairs or ())):
        yield from _mappings(child, met)


def _value_of(node: Node | None, name: str) -> Node | None:
    return next((value for key, value in (node.pairs or () if node else ()) if key.text == name), None)


def _state_edit(text: str, mapping: Node, state: str) -> Iterator[Edit]:
    old, plugin = _value_of(mapping, "state"), _value_of(mapping, "plugin")
    if old is not None:
        yield from _replaced(old, state)
    elif plugin is not None:
        raw: MappingNode = mapping.raw
        key = next(key for key, value in raw.value if value is plugin.raw)
        if raw.flow_style:
            yield plugin.raw.end_mark.index, plugin.raw.end_mark.index, f", state: {_scalar(state, None)}"
        else:
            end = _LINE_END.search(text, plugin.raw.end_mark.index)
            at = end.start() if end else len(text)
            usual = end or _LINE_END.search(text)
            indent = (usual[0] if usual else "\n") + " " * key.start_mark.column
            yield at, at, f"{indent}state: {_scalar(state, None)}"


def _value_edits(mapping: Node, stage: Stage, values: NewValues) -> Iterator[Edit]:
    settings = _value_of(mapping, "settings")
    groups = [settings, *(value for _, value in (settings.pairs or () if settings else ()))]
    for assignment in stage.settings:
        new = values.get((assignment.side, assignment.name))
        places = (value for group in groups if group for key, value in group.pairs or () if key.mark == assignment.mark)
        place = next(places, None)
        if new is not None and place is not None:
            yield from _replaced(place, new)


def _replaced(node: Node, new: str) -> Iterator[Edit]:
    """Nothing for what stands in a block of its own lines: that is left to a hand."""
    if isinstance(node.raw, ScalarNode) and node.raw.style not in ("|", ">"):
        yield node.raw.start_mark.index, node.raw.end_mark.index, _scalar(new, node.raw.style)


def _scalar(text: str, style: str | None) -> str:
    """The text as YAML, in the quotes that stood there; in double ones where it needs some."""
    if style == "'" and text.isprintable():
        return "'" + text.replace("'", "''") + "'"
    return text if style is None and _PLAIN.fullmatch(text) else yaml_text(text)


def _edited(text: str, edits: list[Edit]) -> str:
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


def _intended(chain: Chain, stage: Stage, state: str, values: NewValues) -> Chain:
    """The chain as it is to be read from the new text."""
    folder = chain.path.absolute().parent
    changed = replace(stage, state=folder / Path(state).expanduser(),
                      settings=tuple(_with(assignment, values) for assignment in stage.settings))  # fmt: skip

    def put(old: Stage) -> Stage:
        if old == stage:
            return changed
        return replace(old, alternatives=tuple(put(one) for one in old.alternatives))

    inserts, buses, output = (tuple(map(put, part)) for part in (chain.inserts, chain.buses, chain.output))
    return replace(chain, inserts=inserts, buses=buses, output=output)


def _with(assignment: Assignment, values: NewValues) -> Assignment:
    new = values.get((assignment.side, assignment.name))
    return assignment if new is None else replace(assignment, value=setting_value(new))


def _unmarked(value: Any) -> Any:
    """The same without places and without the text, both of which move."""
    if isinstance(value, tuple):
        return tuple(_unmarked(each) for each in value)
    if isinstance(value, Mark):
        return None
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value), *(_unmarked(getattr(value, f.name)) for f in fields(value)
                               if not (isinstance(value, Chain) and f.name == "text")))  # fmt: skip
    return value


def _by_hand(chain: Chain, stage: Stage, state: str, values: NewValues) -> ChainFileError:
    lines = [f"state: {state}", *(f"{' '.join(part for part in key if part)}: {new}" for key, new in values.items())]
    what = f"'{stage.name}' is written in a way that cannot be changed without changing something else"
    remedy = f"write into it by hand: {'; '.join(lines)}"
    return ChainFileError([Problem(str(chain.path), stage.plugin_mark.line, stage.plugin_mark.column, what, remedy)])
