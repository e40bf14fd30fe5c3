"""How a thread wakes the loop that waits on connections."""

from __future__ import annotations

import threading
from multiprocessing.connection import Pipe

from sweeper.workers.line import Line


class Bell:
    """`reader` becomes readable once somebody has rung, until the bell is cleared."""

    def __init__(self) -> None:
        self.reader: Line
        self._writer: Line
        self.reader, self._writer = Pipe(duplex=False)
        self._lock = threading.Lock()
        self._rung = False

    def ring(self) -> None:
        """From any thread, as often as one likes; after close() it does nothing."""
        with self._lock:
            if not self._rung and not self._writer.closed:
                self._rung = True
                self._writer.send_bytes(b"!")

    def clear(self) -> None:
        """Call before looking at what the bell was rung for: a ring that comes while looking then stays."""
        with self._lock:
            if self._rung:
                self.reader.recv_bytes()
                self._rung = False

    def close(self) -> None:
        """Gives the pipe back."""
        with self._lock:
            self._writer.close()
            self.reader.close()
