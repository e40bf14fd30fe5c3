"""The letter to a child is one line, whatever is in it."""

from __future__ import annotations

import json

from sweeper.workers.letter import Letter


def test_a_letter_is_one_line_and_reads_back() -> None:
    letter = Letter("/tmp/a b", "00ff", ["C:\\Müsik\nline"], "fence", 15.0)
    line = letter.line()
    assert line.count(b"\n") == 1 and line.endswith(b"\n")
    assert Letter(**json.loads(line)) == letter
