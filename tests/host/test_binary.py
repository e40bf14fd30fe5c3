"""Program files told apart by their first bytes; see program_files for the sources of the layouts."""

from __future__ import annotations

import platform
import struct
import sys
from pathlib import Path

import pytest
from program_files import elf, mach, pe

from sweeper.host.binary import Target, built_for, this_machine


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (elf("x86-64"), ["Linux on x86-64"]), (elf("ARM64"), ["Linux on ARM64"]), (elf("x86"), ["Linux on x86"]),
        (pe("x86-64"), ["Windows on x86-64"]), (pe("ARM64"), ["Windows on ARM64"]), (pe("x86"), ["Windows on x86"]),
        (mach("x86-64"), ["macOS on x86-64"]), (mach("ARM64"), ["macOS on ARM64"]), (mach("x86"), ["macOS on x86"]),
        (mach("x86-64", "ARM64"), ["macOS on x86-64", "macOS on ARM64"]),
    ],
)  # fmt: skip
def test_every_kind_of_program_is_told(tmp_path, code, words):
    (tmp_path / "program").write_bytes(code)
    assert list(map(str, built_for(tmp_path / "program"))) == words


@pytest.mark.parametrize(
    "code",
    [b"", b"\x7fELF", b"MZ", b"MZ" + bytes(100), b"just text in a file", mach("x86-64", "ARM64")[:20],
     struct.pack(">II", 0xCAFEBABE, 52) + bytes(4000)],
)  # fmt: skip
def test_what_is_no_program_is_none(tmp_path, code):
    (tmp_path / "program").write_bytes(code)
    assert built_for(tmp_path / "program") == ()


def test_pythons_own_program_is_for_this_machine():
    assert this_machine() in built_for(Path(sys.executable).resolve())


def test_an_unknown_machine_keeps_its_own_word(monkeypatch):
    monkeypatch.setattr(platform, "system", lambda: "Linux")
    monkeypatch.setattr(platform, "machine", lambda: "riscv64")
    assert this_machine() == Target("Linux", "riscv64")
