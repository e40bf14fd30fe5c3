"""Where one child, and nobody else, can connect to the parent."""

from __future__ import annotations

import multiprocessing
import os
import tempfile
import threading
from collections.abc import Callable
from multiprocessing.connection import Client, Listener
from pathlib import Path

from sweeper.workers.line import Line


class Door:
    """Listens on a private address; `connection` is None until the child has come in, then ring() is called.

    Accepting cannot be given a limit, so a thread does it.
    """

    def __init__(self, ring: Callable[[], None]) -> None:
        self.secret = os.urandom(32)
        self.connection: Line | None = None
        self._ring = ring
        self._closing = False
        self._folder: Path | None = None
        self._listener = self._listening()
        self._thread = threading.Thread(target=self._accept, daemon=True)
        self._thread.start()

    def _listening(self) -> Listener:
        """On a private address of the system's choice; where its temporary folder has too long a path, in /tmp."""
        try:
            return Listener(authkey=self.secret)
        except OSError:
            if os.name != "posix":
                raise
            self._folder = Path(tempfile.mkdtemp(prefix="sweeper-", dir="/tmp"))
            return Listener(str(self._folder / "door"), family="AF_UNIX", authkey=self.secret)

    @property
    def address(self) -> str:
        """A socket's path, on Windows a pipe's name."""
        return str(self._listener.address)

    def _accept(self) -> None:
        while not self._closing and self.connection is None:
            try:
                self.connection = self._listener.accept()
            except (OSError, EOFError, multiprocessing.AuthenticationError):
                continue  # whoever it was did not know the secret, or died at once
        self._ring()

    def close(self) -> None:
        """Also ends the connection. The child is dead by now, or never came."""
        self._closing = True
        if self._thread.is_alive():
            self._wake_thread()
        self._thread.join()
        self._listener.close()
        if self._folder is not None:
            self._folder.rmdir()
        if self.connection is not None:
            self.connection.close()

    def _wake_thread(self) -> None:
        try:
            Client(self.address).close()
        except OSError:
            return  # the child came in at this very moment: the thread is past accepting
