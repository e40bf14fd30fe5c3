"""Choosing what is worth hearing: in a run, and from a finished one by other limits or preferences."""

from sweeper.shortlist.apart import listed
from sweeper.shortlist.choice import RULE, Choice
from sweeper.shortlist.choosing import Shortlist, shortlist
from sweeper.shortlist.keeping import kept

__all__ = ["RULE", "Choice", "Shortlist", "kept", "listed", "shortlist"]
