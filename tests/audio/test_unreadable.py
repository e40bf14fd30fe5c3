"""What is recognised of files that are no sound."""

import pytest

from sweeper.audio.unreadable import FOREIGN, is_text, not_sound


@pytest.mark.parametrize("offset, mark, kind", FOREIGN)
def test_other_kinds_of_file_are_called_by_their_name(tmp_path, offset, mark, kind):
    path = tmp_path / "a.wav"
    path.write_bytes(bytes(offset) + mark + bytes(100))
    told = not_sound(path)
    assert told.what == f"{path}: this is {kind}, which cannot be read here"
    assert "bounce it as WAV" in told.remedy


@pytest.mark.parametrize("content, text", [
    (b"plain\r\n\ttext", True),
    ("Grüße".encode()[:-1], True),
    ("ü".encode() * 10, True),
    ("Wort".encode("utf-16"), True),
    (b"text with\x00a zero", False),
    (b"\xff\xfb\x90\x64" * 10, False),
    ("Grüße aus Köln, früh über Fürth".encode("latin-1"), False),
], ids=range(7))  # fmt: skip
def test_text_is_told_from_bytes(content, text):
    assert is_text(content) is text
