"""When to give up on starting children."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.errors import SweeperError

IN_A_ROW = 3


class Starts:
    """Counts the starts that failed since the last one that did not."""

    def __init__(self) -> None:
        self._failed = 0

    def succeeded(self) -> None:
        """A child is ready."""
        self._failed = 0

    def failed(self, what: str, said: Sequence[str]) -> None:
        """A child did not get ready. Raises SweeperError the third time in a row, quoting its last lines."""
        self._failed += 1
        if self._failed == IN_A_ROW:
            quoted = "".join(f"\n    | {line}" for line in said)
            raise SweeperError(
                f"{IN_A_ROW} worker processes in a row did not start: the last one {what}{quoted}",
                'run `python -c "import sweeper"` with the same Python; if that works, a firewall or virus '
                "scanner may be stopping new processes from talking to the one that started them",
            )
