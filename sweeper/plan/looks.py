"""Which stages a chain file wants looked into: those whose attenuation, residue or distortion it names."""

from __future__ import annotations

from sweeper.chain.model import Chain
from sweeper.quantities import BY_KEY


def keys_each_pass(chain: Chain) -> tuple[str, ...]:
    """Measurements from inside that a reach is held against, "limiter.attenuation_db": needed after every pass."""
    keys = [key for reach in chain.reach for key in (reach.key, *(bound.key for bound in reach.stop_at))]
    return tuple(dict.fromkeys(filter(is_inside, keys)))


def keys_once(chain: Chain) -> tuple[str, ...]:
    """All that are named anywhere: needed of every variant once it is rendered."""
    keys = [*keys_each_pass(chain), *(limit.key for limit in chain.limits), *(wish.key for wish in chain.prefer)]
    return tuple(dict.fromkeys(filter(is_inside, keys)))


def split(key: str) -> tuple[str, str]:
    """The stage, "" for the whole chain, and the key of the quantity itself."""
    stage, _, own = key.rpartition(".")
    return stage, own


def is_inside(key: str) -> bool:
    """Whether a measurement is of what a stage, or the whole chain, does to the music."""
    return BY_KEY[split(key)[1]].inside
