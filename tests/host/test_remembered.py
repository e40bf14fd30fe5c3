from __future__ import annotations

import os
from pathlib import Path

import platformdirs
import pytest

from sweeper.errors import StoreError
from sweeper.host import remembered as module
from sweeper.host.remembered import is_unchanged, looks_unchanged, program_now, remember, remembered, remembered_file
from sweeper.host.tried import Loads, Quarantined, Tried


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "store"))
    return tmp_path / "store"


@pytest.fixture
def program(tmp_path: Path) -> Path:
    (tmp_path / "program.so").write_bytes(b"code")
    return tmp_path / "program.so"


def tried(program: Path, *loads: str) -> Tried:
    found = tuple(Loads(name, "The Makers", "1.0", "id", "Fx|EQ", 2, 441, 12, 0.25) for name in loads)
    return Tried(program_now(program), found, (Quarantined("Bad", "crashed", "crashed while loading", "update", "é"),))


def test_it_lies_beside_the_store_or_among_the_systems_caches(own_folder, monkeypatch):
    assert remembered_file() == own_folder / "plugins.json"
    monkeypatch.setenv("SWEEPER_STORE", " ")
    assert remembered_file() == platformdirs.user_cache_path("sweeper", appauthor=False) / "plugins.json"


def test_what_is_remembered_comes_back_and_adds_up(program, own_folder):
    assert remembered() == {}
    one, two = tried(program, "One"), tried(program, "Two", "Three")
    remember({"/a": one})
    remember({"/b": two})
    assert remembered() == {"/a": one, "/b": two}
    assert two.names == ("Two", "Three", "Bad")
    assert [file.name for file in own_folder.iterdir()] == ["plugins.json"], "nothing half-written"


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"schema": 2, "plugins": {"/a": 1}}', '{"schema": 1, "plugins": {"/a": 1}}',
     '{"schema": 1, "plugins": {"/a": {"program": {"unknown": 1}}}}'],
)  # fmt: skip
def test_a_damaged_file_is_as_good_as_none(own_folder, program, text):
    own_folder.mkdir()
    remembered_file().write_text(text)
    assert remembered() == {}
    remember({"/a": tried(program, "One")})
    assert list(remembered()) == ["/a"]


def test_a_program_is_unchanged_by_its_stamp_or_by_its_hash(program):
    known = program_now(program)
    assert looks_unchanged(known, program)
    os.utime(program, ns=(1, 1))
    assert not looks_unchanged(known, program)
    assert is_unchanged(known, program), "the same code with another time"
    program.write_bytes(b"edoc")
    assert not is_unchanged(known, program), "other code of the same length"
    program.unlink()
    assert not is_unchanged(known, program)


def test_another_release_of_the_library_makes_everything_unknown(program, monkeypatch):
    known = program_now(program)
    monkeypatch.setattr(module, "version", lambda name: "99.0")
    assert not looks_unchanged(known, program)
    assert not is_unchanged(known, program)


def test_what_cannot_be_written_is_told_with_a_remedy(own_folder, program):
    own_folder.write_text("a file where the folder should be")
    with pytest.raises(StoreError, match=r"cannot write .*plugins\.json") as caught:
        remember({"/a": tried(program, "One")})
    assert "SWEEPER_STORE" in caught.value.remedy
