"""What text editors and word processors save instead of plain text."""

from __future__ import annotations

import codecs

import pytest

GOOD = "mix: a.wav\ntitle: Grün\noutput: {plugin: A}\n"
PLAIN = "save it from the editor as plain text (UTF-8)"
START = "`sweeper start MIX` writes a chain file for a mix"


@pytest.mark.parametrize(
    ("data", "what", "remedy"),
    [
        (b"{\\rtf1\\ansi mix: a.wav}", "is rich text, not plain text",
         "in the editor choose 'make plain text' and save it again"),
        (b"PK\x03\x04rest", "is a word-processor document or an archive, not plain text", PLAIN),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "is a word-processor document, not plain text", PLAIN),
        (b"\n<!DOCTYPE html>", "is a web page, not a chain file", PLAIN),
        (b"RIFF\x00\x00\x00\x00WAVE", "is a sound file, not a chain file", START),
        (b"fLaC\x00", "is a sound file, not a chain file", START),
        (b"# \n" * 700_000, "is too large for a chain file (over 2 MB)", "check that it is the right file"),
    ],
)  # fmt: skip
def test_a_file_of_another_kind_is_named_for_what_it_is(problems, data, what, remedy):
    (problem,) = problems(data)
    assert (problem.line, problem.what, problem.remedy) == (0, what, remedy)


@pytest.mark.parametrize(
    ("mark", "encoding"),
    [(b"", "utf-8"), (codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"),
     (codecs.BOM_UTF16_BE, "utf-16-be"), (codecs.BOM_UTF32_LE, "utf-32-le")],
    ids=["plain", "utf-8 marked", "utf-16 le", "utf-16 be", "utf-32 le"],
)  # fmt: skip
def test_a_byte_order_mark_is_obeyed(load, mark, encoding):
    chain = load(mark + GOOD.encode(encoding))
    assert chain.title == "Grün"
    assert chain.text == GOOD


def test_a_byte_order_mark_does_not_move_the_places(problems):
    (problem,) = problems(codecs.BOM_UTF8 + (GOOD.replace("mix", "mx")).encode())
    assert (problem.line, problem.column) == (1, 1)


def test_a_character_that_is_not_utf_8_is_told_with_its_place(problems):
    (problem,) = problems(GOOD.encode("latin-1"))
    assert (problem.line, problem.column) == (2, 10)
    assert (problem.what, problem.remedy) == ("a character here is not UTF-8 text", PLAIN)


def test_utf_16_cut_in_half_is_told(problems):
    (problem,) = problems(codecs.BOM_UTF16_LE + "mix: a".encode("utf-16-le") + b"x")
    assert (problem.line, problem.column, problem.remedy) == (1, 7, PLAIN)


def test_the_text_is_kept_verbatim(load):
    text = "# a note\r\nmix:  a.wav   # the mix\r\noutput: {plugin: A}\r\n"
    assert load(text).text == text
