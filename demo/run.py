"""The demo: makes an environment, makes a mix, and masters it in six ways.

    python3 demo/run.py [--seed N]

Needs Python 3.11 or later and nothing else. Any Python can read this file, so that an old one can say so.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an old Python is whom this is for
    sys.exit("Python 3.11 or later is needed; this is %d.%d. Install one from python.org, or name it: "  # noqa: UP031
             "python3.11 demo/run.py" % sys.version_info[:2])  # fmt: skip

import demo_run

if __name__ == "__main__":
    sys.exit(demo_run.main(sys.argv[1:]))
