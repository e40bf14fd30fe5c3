"""The child's standard streams, arranged so that nothing a task does to them can hurt us."""

from __future__ import annotations

import io
import os
import sys
from dataclasses import dataclass


@dataclass(frozen=True)
class Streams:
    """Private file descriptors of the child.

    life: the pipe that ends when the parent does. voice: where the parent listens, open even when a task
    closes stdout and stderr.
    """

    life: int
    voice: int


def arranged_streams() -> Streams:
    """Takes the parent's pipes for ourselves. From here on the process reads nothing from stdin.

    A task that waits for a key gets end-of-file. On Windows this also frees stdin's handle: a library that
    looks at it while it loads would otherwise wait for the thread that reads from it.
    """
    streams = Streams(life=os.dup(0), voice=os.dup(2))
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace", line_buffering=True)
    return streams


def intact(streams: Streams) -> bool:
    """Whether stdout and stderr still lead to the parent. Where not, the next file opened may take their number,
    and what is printed would land in it.
    """
    try:
        if sys.stdout.closed or sys.stderr.closed:
            return False
        os.fstat(0)
        return all(os.path.samestat(os.fstat(streams.voice), os.fstat(number)) for number in (1, 2))
    except OSError:
        return False


def flush_python() -> None:
    """Sends what Python still holds for stdout and stderr, unless the task has closed them."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):  # closed by the task: nobody can print what was in it
            continue


def write_all(descriptor: int, data: bytes) -> None:
    """Writes every byte. Raises OSError when the parent is gone."""
    while data:
        data = data[os.write(descriptor, data) :]
