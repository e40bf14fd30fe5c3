"""Measuring a stream: every meter in one pass.

`start` a panel, `advance` it block by block, `finish` it; `measure` does the three for a clip in memory.
"""

from sweeper.meter.panel import advance, finish, measure, start

__all__ = ["advance", "finish", "measure", "start"]
