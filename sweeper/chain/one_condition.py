"""Bounds and preferences from outside a chain file, read by the chain file's own rules; preferences of a kept one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from ruamel.yaml.nodes import ScalarNode

from sweeper.chain.conditions import read_conditions, read_preferences
from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.model import Condition, Mark, Preference
from sweeper.chain.named_targets import read_target
from sweeper.chain.nearest import quoted
from sweeper.errors import ChainFileError
from sweeper.targets import Target

NOWHERE = Mark(0, 0)
_Read = TypeVar("_Read", Condition, Preference)


def read_condition_texts(texts: Sequence[str], source: str, kept: bool = False) -> tuple[Condition, ...]:
    """Bounds such as "crest >= 8 dB" or "meets ebu-r128", one entry a text. source: what messages call their place.

    kept: they are a run's, judged by the targets as they were then. Raises ChainFileError with every fault.
    """
    return _read(texts, source, lambda node, faults: read_conditions(node, source, None, faults, kept=kept),
                 lambda bound: bound.bounds, "bound the same thing from the same side")  # fmt: skip


def read_preference_texts(texts: Sequence[str], source: str) -> tuple[Preference, ...]:
    """What ranks, such as "crest highest", the weightiest first. Raises ChainFileError with every fault."""
    return _read(texts, source, lambda node, faults: read_preferences(node, None, faults),
                 lambda wish: wish.key, "rank by the same measurement")  # fmt: skip


def read_target_text(text: str, source: str) -> Target:
    """The delivery target of that name. Raises ChainFileError where there is none to deliver to."""
    faults = Faults(source)
    target = read_target(text, None, faults)
    if target is None:
        raise ChainFileError(faults.problems)
    return target


def preferences_in(chain_text: str, source: str) -> tuple[Preference, ...]:
    """What a chain file's text prefers; () where it prefers nothing. Raises ChainFileError when it cannot be read."""
    faults = Faults(source)
    document = read_document(chain_text, faults)
    wishes = [value for key, value in (document.pairs or () if document else ()) if key.text == "prefer"]
    found = read_preferences(wishes[0], None, faults) if wishes else ()
    if faults:
        raise ChainFileError(faults.problems)
    return found


def _read(texts: Sequence[str], source: str, read: Callable[[Node, Faults], tuple[_Read, ...]],
          what_of: Callable[[_Read], object], twice: str) -> tuple[_Read, ...]:  # fmt: skip
    faults = Faults(source)
    found: dict[object, tuple[_Read, str]] = {}
    for text in texts:
        for one in read(Node(ScalarNode("", text, style="'"), NOWHERE), faults):
            if what_of(one) in found:
                first = found[what_of(one)][1]
                faults.add(None, f"{quoted(first)} and {quoted(text)} {twice}", KEEP_ONE)
            found[what_of(one)] = (one, text)
    if faults:
        raise ChainFileError(faults.problems)
    return tuple(one for one, _ in found.values())
