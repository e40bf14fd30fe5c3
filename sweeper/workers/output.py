"""What a child prints, read as it comes: neither side ever waits for the other, or fills memory."""

from __future__ import annotations

import os
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO

LINES_KEPT = 2_000  # of one task
BYTES_KEPT = 1_000_000  # of one task
LINE_CHARACTERS = 2_000
LAST_LINES = 20
_LINE_BYTES = 4 * LINE_CHARACTERS  # no character takes more in UTF-8
_CHUNK_BYTES = 65_536
_PAUSE_S = 0.001  # after a chunk, once lines are dropped: endless printing shall not cost a whole core


@dataclass(frozen=True)
class Heard:
    """One task's printing. last: its last lines. dropped: how much was printed beyond what is kept."""

    last: tuple[str, ...]
    dropped_lines: int
    dropped_bytes: int


class Output:
    """A thread that reads `stream` to its end and closes it.

    A line that ends with `fence` ends one task's account. ring() is called when something has come.
    """

    def __init__(self, stream: BinaryIO, fence: bytes, ring: Callable[[], None]) -> None:
        self._stream = stream
        self._fence = fence
        self._ring = ring
        self._rest = b""  # the line that is not finished yet
        self._changed = threading.Condition()
        self._lines: deque[str] = deque()
        self._accounts: deque[Heard] = deque()
        self._start_account()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def lines(self) -> list[str]:
        """The lines kept since the last call."""
        with self._changed:
            lines = list(self._lines)
            self._lines.clear()
        return lines

    def account(self, within_s: float) -> Heard | None:
        """The next finished account; None when the task's end does not show within that time."""
        with self._changed:
            self._changed.wait_for(lambda: self._accounts, within_s)
            return self._accounts.popleft() if self._accounts else None

    def unfinished(self) -> Heard:
        """The account as it stands."""
        with self._changed:
            return self._heard()

    def close(self, within_s: float) -> None:
        """Waits for the end of the stream; one that another process still holds is left to it."""
        self._thread.join(within_s)

    def _read(self) -> None:
        descriptor = self._stream.fileno()
        while chunk := os.read(descriptor, _CHUNK_BYTES):
            with self._changed:
                self._take(chunk)
            self._ring()
            if self._dropped_lines:
                time.sleep(_PAUSE_S)
        with self._changed:
            if self._rest:
                self._keep(self._rest)
            self._end_account()
        self._stream.close()
        self._ring()

    def _take(self, chunk: bytes) -> None:
        *whole, rest = (self._rest + chunk).split(b"\n")
        self._rest = self._shortened(rest)
        if self._dropped_lines and not any(self._fence in line for line in whole):
            self._drop(whole)
            return
        for line in whole:
            if not line.endswith(self._fence):
                self._keep(line)
                continue
            if unfinished := line[: -len(self._fence)]:
                self._keep(unfinished)
            self._end_account()

    def _shortened(self, line: bytes) -> bytes:
        """Of an endless line the start is kept, and the end, where a fence may be."""
        if len(line) <= _LINE_BYTES + _CHUNK_BYTES:
            return line
        return line[:_LINE_BYTES] + line[-len(self._fence) :]

    def _keep(self, line: bytes) -> None:
        size = min(len(line), _LINE_BYTES) + 1
        if self._dropped_lines or self._kept_lines == LINES_KEPT or self._kept_bytes + size > BYTES_KEPT:
            self._drop([line])
            return
        self._kept_lines += 1
        self._kept_bytes += size
        self._last.append(line)
        self._lines.append(_text(line))

    def _drop(self, lines: list[bytes]) -> None:
        self._dropped_lines += len(lines)
        self._dropped_bytes += sum(map(len, lines)) + len(lines)
        self._last.extend(lines[-LAST_LINES:])

    def _start_account(self) -> None:
        self._kept_lines = self._kept_bytes = self._dropped_lines = self._dropped_bytes = 0
        self._last: deque[bytes] = deque(maxlen=LAST_LINES)

    def _end_account(self) -> None:
        self._accounts.append(self._heard())
        self._start_account()
        self._changed.notify_all()

    def _heard(self) -> Heard:
        return Heard(tuple(map(_text, self._last)), self._dropped_lines, self._dropped_bytes)


def _text(line: bytes) -> str:
    return line[:_LINE_BYTES].decode("utf-8", "replace")[:LINE_CHARACTERS].rstrip("\r")
