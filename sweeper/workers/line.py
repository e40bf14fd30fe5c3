"""The type of the connection between a child and its parent."""

from __future__ import annotations

import sys
from multiprocessing.connection import Connection

if sys.platform == "win32":
    from multiprocessing.connection import PipeConnection

    Line = Connection | PipeConnection
else:
    Line = Connection
