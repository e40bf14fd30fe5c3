"""A disk that takes no more, in the middle of a file."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_file_over(limit_bytes: int) -> Iterator[None]:
    """The system's own limit on the size of a file, which refuses as a full disk does: after a part was written."""
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
