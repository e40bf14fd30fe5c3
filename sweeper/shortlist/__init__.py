"""Choosing from a finished run by other limits or preferences. Renders nothing, writes nothing."""

from sweeper.shortlist.choosing import Shortlist, shortlist

__all__ = ["Shortlist", "shortlist"]
