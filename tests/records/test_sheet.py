"""Recall sheets to JSON and back; what is no sheet, or a newer or damaged one, is refused in words."""

from __future__ import annotations

import copy
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from recall_sheets import SHEET

from sweeper.errors import SheetError
from sweeper.records import Applied, Sheet, Source, StageRecord

TEXTS = st.text(max_size=8)
FLOATS = st.floats(-1e12, 1e12)
APPLIED = st.builds(Applied, TEXTS, st.integers(), TEXTS, TEXTS, st.floats(0, 1), TEXTS)
APPLIEDS = st.lists(APPLIED, max_size=2).map(tuple)
STAGES = st.builds(
    StageRecord, *[TEXTS] * 10, st.booleans(), FLOATS, FLOATS, st.integers(), APPLIEDS, APPLIEDS, st.booleans(), TEXTS
)
SHEETS = st.builds(
    Sheet, TEXTS, TEXTS, TEXTS, st.builds(Source, TEXTS, TEXTS, st.integers(), st.integers(), st.integers()),
    st.lists(STAGES, max_size=3).map(tuple), st.integers(), TEXTS, st.dictionaries(TEXTS.map("k".__add__), FLOATS),
    st.lists(st.dictionaries(TEXTS, FLOATS | TEXTS | st.none()), max_size=2).map(tuple),
    st.lists(TEXTS).map(tuple), st.dictionaries(TEXTS, TEXTS), st.integers(), FLOATS, TEXTS,
)  # fmt: skip


def data() -> dict:
    return copy.deepcopy(json.loads(json.dumps(SHEET.as_data())))


@settings(deadline=None)
@given(SHEETS)
def test_json_and_back_is_the_same(sheet):
    assert Sheet.from_data(json.loads(json.dumps(sheet.as_data()))) == sheet


@pytest.mark.parametrize("written", [None, {"measurement": "loudness_lufs", "at": -7.1}])
def test_a_sheet_of_the_first_version_is_read(written):
    """It has one reach or null, and nothing of passes, of the date, and of where a stage stands."""
    old = data() | {"reach": written}
    for name in ("passes", "plugin_s", "created"):
        del old[name]
    for name in ("output", "label"):
        del old["stages"][0][name]
    sheet = Sheet.from_data(old)
    assert sheet.reach == ((written,) if written else ())
    assert (sheet.passes, sheet.plugin_s, sheet.created) == (1, 0.0, "")
    assert (sheet.stages[0].output, sheet.stages[0].label) == (False, "")


@pytest.mark.parametrize("what", [None, [], "text", 3, {}, {"schema": 1, "run": "results/x", "variants": []}])
def test_what_is_no_sheet_is_said_to_be_none(what):
    with pytest.raises(SheetError, match=r"x\.json: this is not a recall sheet") as caught:
        Sheet.from_data(what, "x.json")
    assert "recall.json" in caught.value.remedy


def test_a_newer_schema_is_refused():
    with pytest.raises(SheetError, match="of schema 2, here 1 is read") as caught:
        Sheet.from_data(data() | {"schema": 2})
    assert "version of sweeper that wrote it" in caught.value.remedy


def test_a_field_of_a_later_version_is_not_passed_over():
    later = data()
    later["stages"][0]["weather"] = 0.5
    with pytest.raises(SheetError, match=r"stages\[0\]\.weather is not known") as caught:
        Sheet.from_data(later)
    assert caught.value.remedy == "use the version of sweeper that wrote it"


@pytest.mark.parametrize("name", ["title", "variant", "source", "audio_sha256", "versions", "block_frames"])
def test_a_missing_field_is_named(name):
    damaged = data()
    del damaged[name]
    with pytest.raises(SheetError, match=f"{name} is missing") as caught:
        Sheet.from_data(damaged)
    assert "backup" in caught.value.remedy


@pytest.mark.parametrize(
    ("change", "words"),
    [(lambda d: d.update(title=3), "title is a whole number, not a text"),
     (lambda d: d.update(stages={}), "stages is a mapping, not a list"),
     (lambda d: d["source"].update(frames=1.5), "source.frames is a number, not a whole number"),
     (lambda d: d["stages"][0].update(bypass=1), r"stages\[0\].bypass is a whole number, not true or false"),
     (lambda d: d["stages"][0]["settings"][1].update(raw=float("nan")), r"settings\[1\].raw is nan, not a number"),
     (lambda d: d["stages"][0]["settings"][1].update(raw=True), r"settings\[1\].raw is true or false"),
     (lambda d: d["stages"].append(None), r"stages\[1\] is null, not a mapping"),
     (lambda d: d.update(reach=[3]), r"reach\[0\] is a whole number, not a mapping"),
     (lambda d: d.update(measurements={"crest_db": "x"}), "crest_db is 'x', not a number"),
     (lambda d: d.update(versions={"numpy": 2}), "versions.numpy is a whole number")],
)  # fmt: skip
def test_a_wrong_value_is_named_with_its_place(change, words):
    damaged = data()
    change(damaged)
    with pytest.raises(SheetError, match=words):
        Sheet.from_data(damaged)


JSONS = st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | TEXTS,
                     lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3))  # fmt: skip


@settings(deadline=None, max_examples=300)
@given(st.lists(st.sampled_from([*SHEET.as_data(), "stages.0"]), min_size=1, max_size=3), JSONS)
def test_nothing_but_a_sheet_error_comes_of_damage(places, value):
    damaged = data()
    for place in places:
        if place == "stages.0":
            damaged["stages"] = [value]
        else:
            damaged[place] = value
    try:
        Sheet.from_data(damaged)
    except SheetError as exc:
        assert exc.what and exc.remedy
