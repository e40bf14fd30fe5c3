"""The command line with a page that does nothing, for tests that serve. Arguments: the page's folder, then as usual."""

from __future__ import annotations

import sys
from pathlib import Path

from sweeper.audition import assembled
from sweeper.cli.main import main

if __name__ == "__main__":
    assembled.PAGE = Path(sys.argv.pop(1))
    main()
