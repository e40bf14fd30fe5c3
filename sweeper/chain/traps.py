"""Traps that a text editor sets and YAML does not mind: a name cut short at ' #', a curly quote."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode

from sweeper.chain.faults import Faults
from sweeper.chain.model import Mark
from sweeper.chain.nearest import quoted

OPENING, CLOSING = "“”„‟«‘‚’", "“”‟»‘’"
ONLY_OPENING = tuple("“„‟«‘‚")
# One space, then # and a letter: a name cut short. Two spaces, or a space after #, is a comment.
CUT_SHORT = re.compile(r" #(?=[^\s#])")
CUT_AWAY = re.compile(r"(?<=[-:,\[{] )#(?=[^\s#])")


def add_traps(raw: Any, text: str, faults: Faults) -> None:
    """Note every text that does not say what the user typed. raw: the top node, text: the whole file."""
    for mark, value in _cut_short(raw, text):
        faults.add_spoilt(mark, f"{quoted(value)} is cut short: everything after ' #' is a comment",
                          "put the whole text in quotes, or write a space after # if it is a comment")
    for mark, value in _half_quoted(raw):
        faults.add_spoilt(mark, f"the curly quote in {quoted(value)} does not quote",
                          "type straight quotes around the whole text")


def mark_of(raw: Any) -> Mark:
    """Where a raw node starts, counted from 1."""
    return Mark(raw.start_mark.line + 1, raw.start_mark.column + 1)


def is_blank(raw: Any) -> bool:
    """Nothing at all was written, not even ~."""
    return isinstance(raw, ScalarNode) and raw.style is None and raw.value == ""


def _every(raw: Any) -> Iterator[Any]:
    """Every raw node once, whatever aliases do."""
    waiting, met = [raw], set()
    while waiting:
        node = waiting.pop()
        if id(node) in met:
            continue
        met.add(id(node))
        yield node
        if isinstance(node, SequenceNode):
            waiting.extend(node.value)
        elif isinstance(node, MappingNode):
            waiting.extend(part for pair in node.value for part in pair)


def _cut_short(raw: Any, text: str) -> Iterator[tuple[Mark, str]]:
    for node in _every(raw):
        if isinstance(node, ScalarNode):
            if node.style is None and node.value and CUT_SHORT.match(text, node.end_mark.index):
                yield mark_of(node), node.value
        elif isinstance(node, SequenceNode):
            yield from _cut_entries(node, text)
        elif isinstance(node, MappingNode):
            for key, value in node.value:
                if is_blank(value) and CUT_AWAY.search(text, key.end_mark.index, _line_end(text, key)):
                    yield mark_of(key), f"{key.value}: #"


def _cut_entries(node: SequenceNode, text: str) -> Iterator[tuple[Mark, str]]:
    """Entries of a list that are gone as a whole: `- #2.wav`, or after a comma in brackets."""
    end = node.start_mark.index
    for child in node.value:
        if is_blank(child) and CUT_SHORT.match(text, child.end_mark.index):
            yield mark_of(child), "- #"
        elif node.flow_style and CUT_AWAY.search(text, end, child.start_mark.index):
            yield mark_of(child), "#"
        end = child.end_mark.index
    if node.flow_style and CUT_AWAY.search(text, end, node.end_mark.index):
        yield mark_of(node), "#"


def _line_end(text: str, key: Any) -> int:
    end = text.find("\n", key.end_mark.index)
    return end if end >= 0 else len(text)


def _half_quoted(raw: Any) -> Iterator[tuple[Mark, str]]:
    for node in _every(raw):
        plain = isinstance(node, ScalarNode) and node.style is None
        if plain and node.value[:1] in ONLY_OPENING and not set(node.value[1:]) & set(CLOSING):
            yield mark_of(node), node.value
