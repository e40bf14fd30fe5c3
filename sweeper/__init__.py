"""sweeper: renders a mastering chain in every setting in doubt, on target, level-matched and measured."""

__version__ = "0.1.0"
