"""Plain data into frozen values: the place and the fault of everything that does not fit."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweeper.records.reading import Unreadable, read


@dataclass(frozen=True)
class Part:
    name: str
    gain: float


@dataclass(frozen=True)
class Whole:
    title: str
    frames: int
    on: bool
    parts: tuple[Part, ...]
    levels: Mapping[str, float]
    anything: Mapping[str, object]
    main: Part
    words: tuple[str, ...] = ()
    rate: float = 1.0


PAIR = (Part("p", 1.5), Part("q", -2.0))
WHOLE = Whole("a", 3, True, PAIR, {"x": 0.5}, {"y": None, "z": [1]}, Part("m", 0.0), ("w",))
TEXTS = st.text(max_size=5)
PARTS = st.builds(Part, TEXTS, st.floats(-1e9, 1e9))
WHOLES = st.builds(
    Whole, TEXTS, st.integers(), st.booleans(), st.lists(PARTS, max_size=3).map(tuple),
    st.dictionaries(TEXTS, st.floats(-1e9, 1e9)), st.dictionaries(TEXTS, st.none() | TEXTS | st.integers()), PARTS,
    st.lists(TEXTS).map(tuple), st.floats(-1e9, 1e9),
)  # fmt: skip


def data(**more: object) -> dict[str, object]:
    return {**json.loads(json.dumps(asdict(WHOLE))), **more}


@settings(deadline=None)
@given(WHOLES)
def test_json_and_back_is_the_same(whole):
    assert read(Whole, json.loads(json.dumps(asdict(whole)))) == whole


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ({"title": 3}, "title is a whole number, not a text"),
        ({"title": None}, "title is null, not a text"),
        ({"frames": 3.0}, "frames is a number, not a whole number"),
        ({"frames": True}, "frames is true or false, not a whole number"),
        ({"on": 1}, "on is a whole number, not true or false"),
        ({"rate": "1"}, "rate is a text, not a number"),
        ({"rate": False}, "rate is true or false, not a number"),
        ({"rate": float("nan")}, "rate is nan, not a number"),
        ({"rate": float("-inf")}, "rate is -inf, not a number"),
        ({"parts": {"name": "p"}}, "parts is a mapping, not a list"),
        ({"parts": [{"name": "p", "gain": 1}, {"name": "q"}]}, "parts[1].gain is missing"),
        ({"parts": [{"name": "p", "gain": []}]}, "parts[0].gain is a list, not a number"),
        ({"levels": {"x": "loud"}}, "levels.x is a text, not a number"),
        ({"levels": [1]}, "levels is a list, not a mapping"),
        ({"main": None}, "main is null, not a mapping"),
        ({"words": ["a", 1]}, "words[1] is a whole number, not a text"),
        ({"main": {"name": "m", "gain": 0, "pan": 1}}, "main.pan is not known to this version"),
    ],
)
def test_what_does_not_fit_is_told_with_its_place(more, fault):
    with pytest.raises(Unreadable) as told:
        read(Whole, data(**more))
    assert str(told.value) == fault
    assert told.value.unknown == ("not known" in fault)


def test_a_whole_number_is_a_number_and_comes_back_as_one():
    found = read(Whole, data(rate=2))
    assert found.rate == 2.0
    assert isinstance(found.rate, float)


def test_what_has_a_default_may_be_missing_and_nothing_else():
    short = {key: value for key, value in data().items() if key not in ("words", "rate")}
    assert (read(Whole, short).words, read(Whole, short).rate) == ((), 1.0)
    for name in short:
        with pytest.raises(Unreadable, match=f"^{name} is missing$"):
            read(Whole, {key: value for key, value in short.items() if key != name})


def test_the_place_goes_before_every_fault():
    with pytest.raises(Unreadable, match=r"^stages\[2\] is a list, not a mapping$"):
        read(Part, [], "stages[2]")
    with pytest.raises(Unreadable, match=r"^stages\[2\]\.gain is missing$"):
        read(Part, {"name": "x"}, "stages[2]")
    with pytest.raises(Unreadable, match=r"^it is null, not a mapping$"):
        read(Part, None)
