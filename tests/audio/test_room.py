"""The room as a whole: what it costs to enter."""

import subprocess
import sys


def test_entering_loads_no_decoder_and_nothing_heavy():
    code = "import sys, sweeper.audio; print(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout.split()
    heavy = {"soundfile", "scipy", "pandas", "pedalboard", "optuna", "ruamel", "numpy.testing"}
    assert heavy.isdisjoint(loaded)
    assert "numpy" in loaded
