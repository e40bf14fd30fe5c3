"""What mixes have of their own, in words: told before a run and with it."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.chain.model import Chain, Mix
from sweeper.quantities import quantity_of


def own_in_words(chain: Chain) -> tuple[str, ...]:
    """One line for each mix that has settings, goals or limits of its own."""
    return tuple(f"{mix.written} has of its own: {'; '.join(_parts(chain, mix))}"
                 for mix in chain.mixes if not mix.is_plain)  # fmt: skip


def _parts(chain: Chain, mix: Mix) -> Iterator[str]:
    if mix.settings:
        yield ", ".join(f"{one.ref} {one.value.text}" for one in mix.settings)
    if mix.goals:
        capped = {reach.key for reach in chain.reach if reach.at_most}
        yield ", ".join(f"{quantity_of(one.key).name} {'at most ' * (one.key in capped)}{one.goal:g} "
                        f"{quantity_of(one.key).unit}".rstrip() for one in mix.goals)  # fmt: skip
    if mix.limits:
        yield ", ".join(one.text for one in mix.limits)
