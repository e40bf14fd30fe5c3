"""One child process: started, spoken to, listened to, killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, cast

from sweeper.workers.door import Door
from sweeper.workers.letter import Letter
from sweeper.workers.line import Line
from sweeper.workers.messages import Message, Order, packed, unpacked
from sweeper.workers.output import Heard, Output
from sweeper.workers.streams import write_all

CHILD = Path(__file__).with_name("child.py")
_FENCE_LIMIT_S = 2.0  # from a result to the fence printed before it; on its way already
_DEATH_LIMIT_S = 1.0  # from the end of a connection, or a kill, to the end of the process
_REST_LIMIT_S = 0.5  # from the end of the process to the end of its output


class ConnectionEnded(Exception):
    """The child has closed its connection, most likely by dying."""


class Child:
    """Owns a process and all that belongs to it; close() gives everything back, and kills what still runs.

    grace_s: how long after a limit the child ends itself. ring: called when something has come.
    Raises OSError when no process can be started.
    """

    def __init__(self, grace_s: float, ring: Callable[[], None]) -> None:
        fence = os.urandom(16).hex()
        self._door = Door(ring)
        try:
            self._process = _process()
        except OSError:
            self._door.close()
            raise
        self.output = Output(cast(BinaryIO, self._process.stdout), fence.encode("ascii"), ring)
        self._write(
            Letter(
                address=self._door.address,
                secret=self._door.secret.hex(),
                path=[str(Path(entry).absolute()) for entry in sys.path],
                fence=fence,
                grace_s=grace_s,
            )
        )
        self._sender: threading.Thread | None = None

    @property
    def pid(self) -> int:
        """The process id."""
        return self._process.pid

    @property
    def connection(self) -> Line | None:
        """None until the child has connected."""
        return self._door.connection

    def send(self, order: Order) -> None:
        """Returns at once: a child that never reads a large order must not hold up the parent."""
        self._sender = threading.Thread(target=self._deliver, args=(packed(order),), daemon=True)
        self._sender.start()

    def message(self) -> Message | None:
        """The next message, None if there is none yet. Raises ConnectionEnded."""
        if self.connection is None:
            return None
        try:
            return unpacked(self.connection.recv_bytes()) if self.connection.poll() else None
        except (EOFError, OSError) as end:
            raise ConnectionEnded from end

    def heard(self) -> Heard | None:
        """What it printed in the task whose result has just come; None when that cannot be told apart."""
        return self.output.account(_FENCE_LIMIT_S)

    def has_died(self) -> bool:
        """Whether the process is over."""
        return self._process.poll() is not None

    def exit_code(self) -> int | None:
        """Of a child whose connection has ended; None if it lives on regardless."""
        try:
            return self._process.wait(_DEATH_LIMIT_S)
        except subprocess.TimeoutExpired:
            return None

    def last_words(self) -> Heard:
        """What it printed since its last result. The child must be dead or killed."""
        return self.output.account(_REST_LIMIT_S) or self.output.unfinished()

    def kill(self) -> None:
        """Ends the process, and what it started in its group, at once and without waiting."""
        if sys.platform == "win32":
            self._process.kill()
        else:
            try:
                os.killpg(self._process.pid, signal.SIGKILL)
            except (ProcessLookupError, PermissionError):
                return  # nobody is left in it (macOS: only processes that are ending)

    def close(self) -> None:
        """Kills the child if it still lives, waits for its end, gives back files, pipes and threads."""
        self.kill()
        self.exit_code()
        if self._process.stdin is not None:
            self._process.stdin.close()
        if self._sender is not None:
            self._sender.join()
        self._door.close()
        self.output.close(_REST_LIMIT_S)

    def _deliver(self, data: bytes) -> None:
        try:
            cast(Line, self.connection).send_bytes(data)
        except OSError:
            return  # the child is dead: whoever waits for its messages learns it there

    def _write(self, letter: Letter) -> None:
        try:
            write_all(cast(BinaryIO, self._process.stdin).fileno(), letter.line())
        except OSError:
            return  # dead already: seen by has_died()


def _process() -> subprocess.Popen[bytes]:
    """-P: nothing is imported from the working folder. -u: neither Python nor C holds back what is printed."""
    command = [sys.executable, "-P", "-u", str(CHILD)]
    if sys.platform == "win32":
        return subprocess.Popen(
            command,
            bufsize=0,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            creationflags=subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW,
        )
    return subprocess.Popen(
        command,
        bufsize=0,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    )
