"""Settings, varied or of one mix, that only some alternatives of a stage have."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import Chain
from sweeper.errors import Problem
from sweeper.host.question import Answer, Fault
from sweeper.plan.examined import ChoiceKey, key_of
from sweeper.plan.questions import Placed, Reason, lacked, told


class Lacking:
    """The settings that alternatives lack, from the answers about all of them.

    settings: the pairs of an alternative and such a setting that it has not. warnings: each of them in words.
    problems: the faults of the settings that no alternative has.
    """

    def __init__(self, chain: Chain, answered: Sequence[tuple[Placed, Answer]]) -> None:
        missed: dict[Reason, dict[ChoiceKey, tuple[Placed, Fault]]] = {}
        for placed, answer in answered:
            for fault in answer.faults:
                why = lacked(placed, fault)
                if why is not None:
                    missed.setdefault(why, {}).setdefault(key_of(placed.choice), (placed, fault))
        there = {key_of(placed.choice) for placed, _ in answered}
        nowhere = [why for why, by in missed.items()
                   if why.varied and all(key in by for key in there if key[0] == why.varied.stage)]  # fmt: skip
        self.settings = frozenset((key, why.varied) for why, by in missed.items() for key in by if why.varied)
        self.problems: list[Problem] = [told(chain, *one) for why in nowhere for one in missed[why].values()]
        self.warnings = tuple(_told_of(why, label) for why, by in missed.items() for _, label in by)


def _told_of(why: Reason, label: str) -> str:
    done = f"set for {why.mix}" if why.mix else "varied"
    return f"'{why.varied}' is {done} where it exists: '{label}' has no such setting"
