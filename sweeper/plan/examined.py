"""What is known of a chain once its plugins have been loaded; plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sweeper.chain.model import SettingRef, SettingValue, Stage
from sweeper.host.described import Plugin
from sweeper.host.question import Found

#: Which processor: the stage's name, and its label among the alternatives ("" where there are none).
ChoiceKey = tuple[str, str]
#: A value looked up: which processor, the setting as written, the side, the value.
Lookup = tuple[ChoiceKey, str, str, SettingValue]


@dataclass(frozen=True)
class Examined:
    """paths: each processor's file or "builtin:NAME". plugins: its description.

    found: what every value turned out to be (but trims). lacking: the settings, varied or of one mix, that one
    alternative has not.
    """

    paths: Mapping[ChoiceKey, str]
    plugins: Mapping[ChoiceKey, Plugin] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    found: Mapping[Lookup, Found] = field(default_factory=dict)
    lacking: frozenset[tuple[ChoiceKey, SettingRef]] = frozenset()


def key_of(choice: Stage) -> ChoiceKey:
    """How a stage, or one of its alternatives, is found in `Examined`."""
    return choice.name, choice.label


def called(choice: Stage) -> str:
    """A stage as messages name it: stage 'colour', stage 'colour' (Valve)."""
    return f"stage '{choice.name}'" + (f" ({choice.label})" if choice.label else "")
