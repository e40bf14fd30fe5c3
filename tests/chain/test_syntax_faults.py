"""Slips of the keyboard that end the reading: told in words, at the place of the slip, alone."""

from __future__ import annotations

import pytest

QUOTE = "put the whole text in quotes"
COLON = ("a ':' inside a text needs quotes", 'put the whole text in quotes, e.g. "EQ: Band"')
UNFIT = ("this line does not fit under the one above",
         "indent it like its neighbours, and check that the line above has its ':'")  # fmt: skip
TAB = ("this line is indented with a tab", "indent with spaces")
AFTER_QUOTE = ("text goes on after the closing quote",
               "put the whole text in quotes; inside '...' write '' for an apostrophe")  # fmt: skip
BACKSLASH = ("in double quotes a \\ starts a code", "use single quotes, and / in paths")

SLIPS = [
    ("output:\n  - plugin: EQ: Band\n", "2:15", *COLON),
    ("output: [{plugin: EQ: Band}]\n", "1:21", *COLON),
    ("title: “EQ: Band”\n", "1:11", *COLON),
    ("output: {\n  plugin: EQ: Band\n}\n", "2:13", *COLON),
    ("references: [a.wav, b.wav\nmix: a.wav\n", "1:13", "the bracket [ opened here is never closed",
     "add ] where the entries end"),
    ("reach: {loudness: -14 LUFS\nmix: a.wav\n", "1:8", "the bracket { opened here is never closed",
     "add } where the entries end"),
    ("mix: a.wav\nreferences: [[[", "2:15", "the bracket [ opened here is never closed",
     "add ] where the entries end"),
    ("references: [a.wav]]\n", "1:20", "nothing is open that this ] could close",
     "take it out, or add the opening bracket"),
    ("title: 'Lantern Bay\nmix: a.wav\n", "1:8", "the quote ' opened here is never closed",
     "add the closing quote at the end of the text"),
    ('title: "Lantern Bay\nmix: a.wav\n', "1:8", 'the quote " opened here is never closed',
     "add the closing quote at the end of the text"),
    ("title: 'it's me'\n", "1:12", *AFTER_QUOTE),
    ("references: ['a' 'b']\n", "1:18", *AFTER_QUOTE),
    ("reach: {loudness: -14 LUFS\n  by: x.y}\n", "2:3", "a comma is missing before this",
     "put a comma between the entries"),
    ("references: [a.wav {b: c}]\n", "1:20", "a comma is missing before this",
     "put a comma between the entries"),
    ("title: x\t# words\n", "1:9", "there is a tab here", "use spaces"),
    ("output:\n\t- plugin: A\n", "2:1", *TAB),
    ("output:\n  - plugin: A\n  \t  bypass: on\n", "3:1", *TAB),
    ("title: x\n  mix: a.wav\n", "2:6", *UNFIT),
    (" title: x\nmix: a.wav\n", "2:1", *UNFIT),
    ("output:\n  - plugin: A\n bypass: on\n", "3:2", *UNFIT),
    ("title\nmix: a.wav\n", "2:4", *UNFIT),
    ("mix: a.wav\ntitle x\noutput: []\n", "2:1", "this line has no ':' after its name", "write NAME: VALUE"),
    ("gain: - 3 dB\n", "1:7", "'- ' starts a list entry, which cannot stand here",
     "write -3 dB without a space; put list entries on lines of their own"),
    ("title: @home\n", "1:8", "a text cannot start with @", QUOTE),
    ("title: *star\n", "1:8", "a text that starts with * or & needs quotes", QUOTE),
    ("title: > 3\n", "1:10", "a text that starts with >, | or ! needs quotes", QUOTE),
    ('mix: "C:\\mixes\\a.wav"\n', "1:9", *BACKSLASH),
    ('mix: "C:\\UFFFFFFFF"\n', "1:9", *BACKSLASH),
    ("title: x\n---\ntitle: y\n", "2:1", "the line --- starts a second file", "take it out"),
    ("%YAML 9.9\n---\ntitle: y\n", "1:1", "a line that starts with % is not read here", "take it out"),
    ("title: x\nmix: a\x01.wav\n", "2:7", "a character here cannot be part of a text file",
     "delete it, or save the file as plain text (UTF-8)"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "place", "what", "remedy"), SLIPS, ids=[repr(row[0]) for row in SLIPS])
def test_a_slip_is_told_in_words_at_its_place(problems, text, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(text)]
    assert found == [(place, what, remedy)]


def test_brackets_without_end_are_no_bug_of_ours(problems):
    (problem,) = problems("[" * 5000)
    assert (problem.what, problem.remedy) == (
        "has brackets nested too deep", "look for brackets that are never closed")  # fmt: skip


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"], ids=["unix", "windows", "old mac"])
def test_lines_are_counted_whatever_ends_them(problems, line_end):
    lines = ["mix: a.wav", "# ümläut", "output: {plugin: A}", "", "titel: x", ""]
    (problem,) = problems(line_end.join(lines))
    assert (problem.line, problem.column) == (5, 1)
