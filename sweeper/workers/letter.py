"""The first line on a child's stdin: how to reach the parent (a command line could be read by others)."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Letter:
    """address, secret: of the parent's listener, the secret in hex. path: the parent's module search path.

    fence: printed by the child after each task, so that what was printed before is known to belong to it.
    grace_s: how long after a limit the child ends itself.
    """

    address: str
    secret: str
    path: list[str]
    fence: str
    grace_s: float

    def line(self) -> bytes:
        """The letter as one line of JSON."""
        return json.dumps(asdict(self)).encode("ascii") + b"\n"
