"""Nothing is overwritten, and the chain file is the new one or the old one, whole."""

from __future__ import annotations

import codecs
import errno
import itertools
import sys

import pytest

from sweeper.chain import load_chain
from sweeper.dial.keeping import file_name, keep_state, rewrite
from sweeper.errors import ChainFileError, RunFolderError

TEXT = "mix: mix.wav\ninserts:\n  - name: glue é  # note\n    plugin: C\n    settings: {Ratio: 2}\n"


@pytest.fixture
def place(tmp_path):
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "t.chain.yaml").write_text(TEXT, encoding="utf-8")
    return tmp_path / "t.chain.yaml"


def test_states_are_numbered_and_never_written_over(place):
    chain = load_chain(place)
    made = [keep_state(chain, chain.stages[0], bytes([n])) for n in range(3)]
    assert [path.name for path in made] == ["glue é.vstpreset", "glue é-2.vstpreset", "glue é-3.vstpreset"]
    assert [path.read_bytes() for path in made] == [b"\0", b"\1", b"\2"]
    assert made[0].parent == place.parent / "states"


@pytest.mark.parametrize(
    ("text", "name"),
    [("glue-Valve", "glue-Valve"), ('a/b\\c:d*e?"<>|', "a-b-c-d-e-"), (" .. ", "stage"), ("CON", "CON-"),
     ("com1.x", "com1.x-"), ("東京 é", "東京 é"), ("a.", "a")],
)  # fmt: skip
def test_file_names_are_such_that_every_system_takes(text, name):
    assert file_name(text) == name


@pytest.mark.parametrize("mark", [b"", codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_encoding_and_line_ends_stay_and_the_old_file_is_kept(place, mark, line_end):
    encoding = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}.get(mark, "utf-8")
    old = mark + TEXT.replace("\n", line_end).encode(encoding)
    place.write_bytes(old)
    chain = load_chain(place)
    state = keep_state(chain, chain.stages[0], b"state")
    copies = []
    for ratio in ("3", "4"):
        chain = load_chain(place)
        before = place.read_bytes()
        copies.append(rewrite(chain, chain.stages[0], state, {("", "Ratio"): ratio}))
        assert copies[-1].read_bytes() == before
    assert [copy.name for copy in copies] == ["t.chain.before-dial.yaml", "t.chain.before-dial-2.yaml"]
    lines = ["mix: mix.wav", "inserts:", "  - name: glue é  # note", "    plugin: C",
             '    state: states/glue é.vstpreset', "    settings: {Ratio: 4}", ""]  # fmt: skip
    assert place.read_bytes() == mark + line_end.join(lines).encode(encoding)
    assert not list(place.parent.glob(".*"))


def test_a_file_that_was_edited_meanwhile_is_left_alone(place):
    chain = load_chain(place)
    state = keep_state(chain, chain.stages[0], b"state")
    place.write_text(TEXT.replace("2", "9"), encoding="utf-8")
    with pytest.raises(ChainFileError, match="has changed since") as refused:
        rewrite(chain, chain.stages[0], state, {("", "Ratio"): "3"})
    assert "state: states/glue é.vstpreset" in str(refused.value)
    assert place.read_text(encoding="utf-8") == TEXT.replace("2", "9")
    assert sorted(path.name for path in place.parent.iterdir()) == ["mix.wav", "states", "t.chain.yaml"]


def test_a_link_stays_a_link(place, tmp_path):
    link = tmp_path / "link.yaml"
    link.symlink_to(place)
    chain = load_chain(link)
    copy = rewrite(chain, chain.stages[0], keep_state(chain, chain.stages[0], b"s"), {})
    assert link.is_symlink()
    assert "state:" in place.read_text(encoding="utf-8")
    assert copy.read_text(encoding="utf-8") == TEXT


def test_a_disk_that_refuses_is_named(place):
    chain = load_chain(place)
    (place.parent / "states").write_text("a file, not a folder")
    with pytest.raises(RunFolderError, match="cannot write into"):
        keep_state(chain, chain.stages[0], b"state")


def test_a_disk_that_fills_up_leaves_no_part_of_a_state(place, monkeypatch):
    chain = load_chain(place)
    monkeypatch.setattr("os.fsync", refusing(0))
    with pytest.raises(RunFolderError, match="No space left"):
        keep_state(chain, chain.stages[0], b"state")
    assert list((place.parent / "states").iterdir()) == []


@pytest.mark.parametrize(("written", "left"), [(0, []), (1, ["t.chain.before-dial.yaml"])], ids=["copy", "chain file"])
def test_a_chain_file_that_the_disk_did_not_take_is_as_it_was(place, monkeypatch, written, left):
    chain = load_chain(place)
    state = keep_state(chain, chain.stages[0], b"state")
    monkeypatch.setattr("os.fsync", refusing(written))
    with pytest.raises(RunFolderError, match="No space left"):
        rewrite(chain, chain.stages[0], state, {})
    assert place.read_text(encoding="utf-8") == TEXT
    assert sorted(path.name for path in place.parent.iterdir()) == ["mix.wav", "states", *left, "t.chain.yaml"]


def refusing(after: int):
    """A disk that is full after so many files."""
    asked = itertools.count()

    def fsync(handle: int) -> None:
        if next(asked) >= after:
            raise OSError(errno.ENOSPC, "No space left on device")

    return fsync


def test_who_may_read_it_stays(place):
    if sys.platform != "win32":
        place.chmod(0o640)
    chain = load_chain(place)
    mode = place.stat().st_mode
    rewrite(chain, chain.stages[0], keep_state(chain, chain.stages[0], b"s"), {})
    assert place.stat().st_mode == mode
