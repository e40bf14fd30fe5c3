"""The two scripts that a bare Python starts: an old one must be told so in words, not by a traceback."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SCRIPTS = ["demo/run.py", "tests/run.py"]


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_old_python_is_told_which_one_is_needed(script):
    code = f"import runpy, sys; sys.version_info = (3, 9, 1); runpy.run_path({str(ROOT / script)!r})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr == (
        "Python 3.11 or later is needed; this is 3.9. "
        f"Install one from python.org, or name it: python3.11 {script}\n"
    )


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_old_python_can_read_the_script(script):
    source = (ROOT / script).read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 6))
    assert "from __future__" not in source  # Python 3.6 does not know `annotations`


def test_the_demo_refuses_a_seed_that_is_no_number():
    done = subprocess.run([sys.executable, ROOT / "demo/run.py", "--seed", "x"], capture_output=True, text=True)
    assert done.returncode == 2
    assert "'x' is not a whole number, 0 or more" in done.stderr
