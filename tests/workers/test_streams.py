"""Writing to the end of the data, whatever the pipe takes at a time."""

from __future__ import annotations

import os
import threading

import pytest

from sweeper.workers.streams import write_all


def test_more_than_a_pipe_holds_is_written_whole() -> None:
    reading, writing = os.pipe()
    read: list[bytes] = []
    with os.fdopen(reading, "rb") as stream:
        thread = threading.Thread(target=lambda: read.append(stream.read()))
        thread.start()
        write_all(writing, bytes(1_000_000))
        os.close(writing)
        thread.join()
    assert len(read[0]) == 1_000_000


def test_a_reader_that_is_gone_is_an_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with pytest.raises(BrokenPipeError):
        write_all(writing, b"x")
    os.close(writing)
