"""A chain file's text as nodes that know their place. No meaning yet: that is the readers' part."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode

from sweeper.chain.faults import Faults
from sweeper.chain.model import Mark
from sweeper.chain.syntax_faults import add_syntax_fault
from sweeper.chain.traps import CLOSING, OPENING, add_traps, is_blank, mark_of

NULLS = ("", "~", "null", "Null", "NULL")


@dataclass(frozen=True, eq=False)
class Node:
    """One value of the file and where it stands. Children are made when asked for (aliases may loop)."""

    raw: Any
    mark: Mark

    @property
    def text(self) -> str | None:
        """The text of a single value, without curly quotes around it; None for a list or mapping."""
        if not isinstance(self.raw, ScalarNode):
            return None
        text = str(self.raw.value)
        if self.raw.style is None and len(text) > 1 and text[0] in OPENING and text[-1] in CLOSING:
            text = text[1:-1]
        if self.raw.style in ("'", '"'):
            return text
        return re.sub(r"\s*[\r\n\t]\s*", " ", text).strip()

    @property
    def empty(self) -> bool:
        """Nothing was written here."""
        return isinstance(self.raw, ScalarNode) and self.raw.style is None and self.raw.value in NULLS

    @property
    def items(self) -> tuple[Node, ...] | None:
        """The entries of a list; None for anything else."""
        if not isinstance(self.raw, SequenceNode):
            return None
        return tuple(Node(child, mark_of(child)) for child in self.raw.value)

    @property
    def pairs(self) -> tuple[tuple[Node, Node], ...] | None:
        """Keys and values of a mapping in the file's order, repeated keys included; None for anything else.

        A value that is not there stands at its key's place.
        """
        if not isinstance(self.raw, MappingNode):
            return None
        return tuple((Node(key, mark_of(key)), Node(value, mark_of(key if is_blank(value) else value)))
                     for key, value in self.raw.value)  # fmt: skip

    @property
    def kind(self) -> str:
        """What this is, as messages call it."""
        if isinstance(self.raw, SequenceNode):
            return "a list"
        return "a mapping" if isinstance(self.raw, MappingNode) else "a single value"


def read_document(text: str, faults: Faults) -> Node | None:
    """The top node of the text; None when there is none, with a fault when it cannot be read."""
    try:
        yaml = YAML(typ="safe", pure=True)
        yaml.composer.warn_double_anchors = False  # allowed by YAML 1.2; the warning would go to the terminal
        raw = yaml.compose(text)
    except (YAMLError, RecursionError, OverflowError, ValueError) as error:
        add_syntax_fault(error, text, faults)
        return None
    if raw is None:
        faults.add(None, "is empty", "`sweeper start MIX` writes a chain file to begin with")
        return None
    add_traps(raw, text, faults)
    return Node(raw, mark_of(raw))
