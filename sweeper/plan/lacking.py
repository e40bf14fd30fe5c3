"""Varied settings that only some alternatives of a stage have."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import Chain, SettingRef
from sweeper.errors import Problem
from sweeper.host.question import Answer, Fault
from sweeper.plan.examined import ChoiceKey, key_of
from sweeper.plan.questions import Placed, lacked, told


class Lacking:
    """The settings that alternatives lack, from the answers about all of them.

    settings: the pairs of an alternative and a varied setting that it has not. warnings: each of them in words.
    problems: the faults of the settings that no alternative has.
    """

    def __init__(self, chain: Chain, answered: Sequence[tuple[Placed, Answer]]) -> None:
        missed: dict[SettingRef, dict[ChoiceKey, tuple[Placed, Fault]]] = {}
        for placed, answer in answered:
            for fault in answer.faults:
                ref = lacked(placed, fault)
                if ref is not None:
                    missed.setdefault(ref, {}).setdefault(key_of(placed.choice), (placed, fault))
        there = {key_of(placed.choice) for placed, _ in answered}
        nowhere = [ref for ref, by in missed.items() if all(key in by for key in there if key[0] == ref.stage)]
        self.settings = frozenset((key, ref) for ref, by in missed.items() for key in by)
        self.problems: list[Problem] = [told(chain, *one) for ref in nowhere for one in missed[ref].values()]
        self.warnings = tuple(f"'{ref}' is varied where it exists: '{label}' has no such setting"
                              for ref, by in missed.items() for _, label in by)  # fmt: skip
