from __future__ import annotations

import json
import re

import pytest

from sweeper.audition.assembled import assembled, data_text

NASTY = "</script><script>alert(1)</script><!-- & \u2028 'x' \"y\""


def test_everything_is_in_one_file_in_its_order(page):
    text = assembled({"title": "Tin Boats"}, page)
    assert text.index("body { margin: 0 }") < text.index("Tin Boats") < text.index("// plays") < text.index("FIRST = 1")
    assert text.index("FIRST = 1") < text.index("SECOND = FIRST")
    assert text.count('<script type="module">') == 1
    assert "<!--" not in text
    assert not re.search(r'(src|href)="(?!data:)', text), "nothing is loaded"


def test_no_text_of_a_run_can_leave_its_element(page):
    text = assembled({"title": NASTY}, page)
    assert text.count("</script>") == 3
    inside = re.search(r'id="audition">(.*?)</script>', text, re.DOTALL)
    assert json.loads(inside[1]) == {"title": NASTY}


def test_texts_that_look_like_a_mark_are_not_taken_for_one(page):
    assert json.loads(re.search(r'id="audition">(.*?)</script>', assembled({"title": "<!--script-->"}, page))[1]) == {
        "title": "<!--script-->"}  # fmt: skip


def test_a_number_that_is_none_is_refused():
    with pytest.raises(ValueError, match="JSON"):
        data_text({"loudness": float("nan")})


@pytest.mark.parametrize(("file", "text", "what"), [
    ("first.js", "x = '</script>'", "first.js holds"), ("look.css", "</STYLE>", "look.css holds"),
    ("page.html", "<!--style--><!--data--><!--worklet-->", "<!--script--> 0 times"),
])  # fmt: skip
def test_parts_that_cannot_be_joined_are_refused(page, file, text, what):
    (page / file).write_text(text)
    with pytest.raises(ValueError, match=re.escape(what)):
        assembled({}, page)
