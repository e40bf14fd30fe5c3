"""A mix of the chain file, by its number or its name on the command line."""

from __future__ import annotations

from sweeper.chain.model import Chain, Mix
from sweeper.chain.nearest import suggestion
from sweeper.errors import ChainFileError, Problem


def mix_named(chain: Chain, wanted: str | None) -> Mix:
    """The mix that is meant. wanted: its number from 1, or its file; None = the first.

    Raises ChainFileError for one that the chain file has not.
    """
    if wanted is None:
        return chain.mixes[0]
    if wanted.isdecimal() and 1 <= int(wanted) <= len(chain.mixes):
        return chain.mixes[int(wanted) - 1]
    for mix in chain.mixes:
        if wanted in (mix.written, mix.file.name, str(mix.file)):
            return mix
    remedy = suggestion(wanted, [mix.written for mix in chain.mixes])
    raise ChainFileError([Problem(str(chain.path), 0, 0, f"no mix is called '{wanted}'", remedy)])
