"""The one variant of a chain file that is meant on the command line."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import Chain
from sweeper.chain.named_mix import mix_named
from sweeper.errors import ChainFileError, Problem
from sweeper.plan.variants import Variant


def picked(chain: Chain, found: Sequence[Variant], number: int | None, mix: str | None) -> Variant:
    """The variant of that number, as `run` numbers them; without one the first of a mix.

    mix: its number from 1, or its file; None = the first. Raises ChainFileError for what the chain file has not.
    """
    if number is None:
        wanted = chain.mixes.index(mix_named(chain, mix))
        return _own(chain, next(variant for variant in found if variant.mix == wanted))
    for variant in found:
        if int(variant.id) == number:
            return _own(chain, variant)
    asked = f"it asks for {found[0].id} to {found[-1].id}, numbered as in the table of a run" if len(found) > 1 else \
        f"it asks for one: {found[0].id}"  # fmt: skip
    raise ChainFileError([Problem(str(chain.path), 0, 0, f"there is no variant {number}", asked)])


def _own(chain: Chain, variant: Variant) -> Variant:
    """The variant, if its settings are its own."""
    mix = chain.mixes[variant.mix]
    if mix.settings_from is None:
        return variant
    raise ChainFileError([Problem(str(chain.path), 0, 0, f"variant {variant.id} has the settings of another mix",
                                  f"name one of {mix.settings_from}: they are solved there")])
