"""What an album asks of its mixes: each to the target by itself, or all in the relations that they came in."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import Chain, Mix
from sweeper.quantities import quantity_of

LOUDNESS = "loudness_lufs"
RMS = "rms_dbfs"


def is_level(key: str) -> bool:
    """Whether mixes that are told to keep their relations differ in the goal for it: a loudness, or RMS; no peak."""
    return quantity_of(key).unit == "LUFS" or key == RMS


def is_related(mix: Mix) -> bool:
    """Whether a mix takes part in the album's relations: not with a level to land on of its own, nor with the settings
    of another mix."""
    return mix.settings_from is None and not any(is_level(goal.key) for goal in mix.goals)


def below_target_lu(chain: Chain, loudness_lufs: Sequence[float | None]) -> tuple[float, ...]:
    """How far below the goal each mix is to land, in LU: 0 but where the album keeps its relations.

    loudness_lufs: of the mixes as they came, integrated. The loudest lands on the goal, the others as far below it as
    they are below the loudest: so that a player that turns an album as one, by its loudest track, leaves it as it is
    (AES TD1008, album normalisation). A mix without a loudness has nothing to keep, one with a goal of its own lands on
    that, and one that is rendered with another's settings lands where these bring it.
    """
    known = [one for mix, one in zip(chain.mixes, loudness_lufs, strict=True)
             if one is not None and is_related(mix)]  # fmt: skip
    if not chain.keeps_relations or not known:
        return (0.0,) * len(loudness_lufs)
    return tuple(0.0 if one is None or not is_related(mix) else max(known) - one
                 for mix, one in zip(chain.mixes, loudness_lufs, strict=True))  # fmt: skip


def relations_in_words(chain: Chain, loudness_lufs: Sequence[float | None]) -> tuple[str, ...]:
    """Where each mix is to land, in words; nothing where all land on one goal."""
    levels = [reach for reach in chain.reach if is_level(reach.key)]
    if not chain.keeps_relations or not levels or not any(map(is_related, chain.mixes)):
        return ()
    below = below_target_lu(chain, loudness_lufs)
    found = []
    for reach in levels:
        quantity = quantity_of(reach.key)
        each = ", ".join(f"{mix.written} {reach.goal - lu:.1f}" for mix, lu in zip(chain.mixes, below, strict=True)
                         if is_related(mix))  # fmt: skip
        found.append(f"the album keeps its relations, {quantity.name} in {quantity.unit}: {each}")
    return tuple(found)
