"""Versions as the libraries themselves say them."""

from __future__ import annotations

import platform
import sys
from importlib.metadata import PackageNotFoundError

import numba
import numpy
import pytest
import scipy
import soundfile

from sweeper.records import SOUND_VERSION
from sweeper.render import versions as shown
from sweeper.render.versions import versions


@pytest.mark.parametrize("library", [numba, numpy, scipy, soundfile], ids=lambda library: library.__name__)
def test_a_library_has_the_version_that_it_gives_itself(library):
    assert versions()[library.__name__] == library.__version__


def test_what_a_rendered_bit_may_hang_on_is_all_there_as_text():
    found = versions()
    assert {"sweeper", "sound", "python", "system", "processor", "pedalboard", "numpy", "scipy", "soundfile",
            "numba"} == set(found)  # fmt: skip
    assert all(isinstance(text, str) and text.strip() for text in found.values())


def test_a_library_that_is_not_installed_is_none(monkeypatch):
    real = shown.version

    def lacking(name):
        if name == "numba":
            raise PackageNotFoundError(name)
        return real(name)

    monkeypatch.setattr(shown, "version", lacking)
    assert (versions()["numba"], versions()["numpy"]) == ("none", numpy.__version__)


def test_python_system_and_our_own_sound_are_told():
    found = versions()
    assert sys.version.startswith(found["python"])
    assert platform.machine() in found["system"]
    assert platform.system() in found["system"]
    assert found["sound"] == str(SOUND_VERSION)
