"""The script that a child process runs. Nothing of ours is imported before the parent's search path is known.

Run as a file and not by module name: only so does it start the same wherever the parent found the package,
and without the working folder, whose files could be named like modules of Python.
"""

from __future__ import annotations

import json
import sys


def main() -> None:
    """Reads the first line of stdin (how to reach the parent) and works until the parent closes stdin."""
    letter = json.loads(sys.stdin.buffer.readline())
    sys.path[:] = letter["path"]
    from sweeper.workers.letter import Letter
    from sweeper.workers.serving import serve

    serve(Letter(**letter))


if __name__ == "__main__":
    main()
