"""Measurements to plain data and back, through JSON."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.quantities import QUANTITIES, Measurements

KEYS = st.sampled_from([quantity.key for quantity in QUANTITIES])
NUMBERS = st.none() | st.floats(-1e9, 1e9) | st.integers(0, 10**9)
ONE = st.builds(Measurements, st.dictionaries(KEYS, NUMBERS), st.dictionaries(KEYS, st.text()))
WHOLE = st.builds(Measurements, st.dictionaries(KEYS, NUMBERS), st.dictionaries(KEYS, st.text()),
                  st.dictionaries(st.text(), ONE, max_size=3),
                  st.lists(st.none() | st.floats(-150, 10), max_size=31).map(tuple))  # fmt: skip


@given(WHOLE)
def test_data_and_back_is_the_same(measurements):
    assert Measurements.from_data(json.loads(json.dumps(measurements.as_data()))) == measurements


@pytest.mark.parametrize(
    ("data", "words"),
    [([], "a mapping"), ({"crest_db": "12"}, "crest_db is '12'"), ({"crest_db": True}, "crest_db is True"),
     ({"crest_db": float("nan")}, "crest_db is nan"), ({"crest_db": float("-inf")}, "not a number"),
     ({"crest_db": 10**400}, "not a number"), ({"reasons": {"crest_db": 1}}, "reasons"), ({"sections": []}, "sections"),
     ({"sections": {"verse": {"crest_db": []}}}, "crest_db"), ({"thirds_dbfs": -3}, "not a list"),
     ({"thirds_dbfs": [-3, "loud"]}, "thirds_dbfs is 'loud'")],
)  # fmt: skip
def test_what_is_no_measurement_is_refused_by_name(data, words):
    with pytest.raises(ValueError, match=words):
        Measurements.from_data(data)


def test_what_an_earlier_version_did_not_measure_is_none_and_what_nobody_measures_is_an_error():
    old = Measurements.from_data({"loudness_lufs": -14.0, "sections": {"verse": {"loudness_lufs": -12.0}}})
    assert (old["loudness_lufs"], old["psr_db"], old.sections["verse"]["tilt_db"]) == (-14.0, None, None)
    with pytest.raises(KeyError, match="psr_lufs"):
        old["psr_lufs"]
