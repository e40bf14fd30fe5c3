"""The two rules of tests/conftest.py, seen from outside: pytest runs on a folder that breaks them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).with_name("conftest.py")
LONG = "import pytest\n@pytest.mark.long\ndef test_long(): pass\ndef test_short(): pass\n"


def outcome(folder: Path, code: str, *options: str) -> subprocess.CompletedProcess[str]:
    shutil.copy(CONFTEST, folder / "conftest.py")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = long: runs only with --long\n")
    (folder / "test_it.py").write_text(code)
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *options]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True)


@pytest.mark.parametrize(
    "code",
    [
        "import pytest\ndef test_it(): pytest.skip('no')",
        "import pytest\npytest.skip('no', allow_module_level=True)",
        "import pytest\n@pytest.mark.xfail\ndef test_it(): assert False",
        "import pytest\n@pytest.mark.xfail\ndef test_it(): pass",
        "import pytest\npytest.importorskip('no_such_module_at_all')",
    ],
    ids=["skip", "module", "xfail", "xpass", "importorskip"],
)
def test_what_is_not_tested_fails_the_run(tmp_path, code):
    done = outcome(tmp_path, f"{code}\n", "test_it.py")
    assert done.returncode != 0
    assert "which is not allowed" in done.stdout


def test_a_skip_beside_a_passing_test_fails_the_run(tmp_path):
    done = outcome(tmp_path, "import pytest\ndef test_it(): pytest.skip('no')\ndef test_good(): pass\n")
    assert done.returncode == 1
    assert "1 passed, 1 skipped" in done.stdout


def test_passing_tests_pass(tmp_path):
    done = outcome(tmp_path, LONG)
    assert done.returncode == 0
    assert "1 passed, 1 deselected" in done.stdout


def test_long_tests_run_when_asked_for(tmp_path):
    done = outcome(tmp_path, LONG, "--long")
    assert done.returncode == 0
    assert "2 passed" in done.stdout
