"""Quantities: their units as EBU R 128 and ITU-R BS.1770 write them, and built is what the meters measure."""

from __future__ import annotations

import pytest
from signals import programme

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.quantities import BY_KEY, QUANTITIES, find_quantity, named_quantity, quantity_of
from sweeper.quantities.registry import BY_NAME

#: Suffix of a key -> (unit, unit of a difference). Loudness is in LUFS and differs by LU; levels differ by dB.
SUFFIXES = {"lufs": ("LUFS", "LU"), "lu": ("LU", "LU"), "dbtp": ("dBTP", "dB"), "dbfs": ("dBFS", "dB"),
            "db": ("dB", "dB"), "pct": ("%", "%"), "ms": ("ms", "ms")}  # fmt: skip
PURE = {"overs", "over_runs", "correlation", "correlation_worst"}


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda quantity: quantity.key)
def test_a_key_carries_its_unit(quantity):
    if quantity.key in PURE:
        assert (quantity.unit, quantity.difference_unit) == ("", "")
    else:
        assert (quantity.unit, quantity.difference_unit) == SUFFIXES[quantity.key.rsplit("_", 1)[1]]


def test_every_quantity_but_those_from_inside_is_measured_of_a_file():
    measured = meter.finish(meter.advance(meter.start(AudioFormat(2, 48000)), programme(0.5)))
    assert set(measured.values) == {quantity.key for quantity in QUANTITIES if not quantity.inside}


def test_no_two_share_a_key_or_a_name():
    assert len(BY_KEY) == len(BY_NAME) == len(QUANTITIES)
    assert BY_NAME["loudness"] is BY_KEY["loudness_lufs"]
    assert BY_NAME["true peak"] is BY_KEY["true_peak_dbtp"]


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda quantity: quantity.key)
def test_a_name_is_the_key_as_people_write_it(quantity):
    spoken = quantity.key if quantity.key in PURE else quantity.key.rsplit("_", 1)[0]
    assert "".join(filter(str.isalpha, quantity.name)).lower() == spoken.replace("_", "")
    assert quantity.meaning


@pytest.mark.parametrize(
    ("key", "name"),
    [("residue_db", "residue"), ("limiter.residue_db", "limiter.residue"),
     ("My 2. bus.attenuation_most_db", "My 2. bus.attenuation.most")],
)  # fmt: skip
def test_a_stages_quantity_is_named_after_it(key, name):
    found = quantity_of(key)
    assert (found.key, found.name, found.unit) == (key, name, "dB")
    stage, meant = named_quantity(name)
    assert (f"{stage}.{meant.key}" if stage else meant.key) == key


@pytest.mark.parametrize("key", ["limiter.loudness_lufs", ".residue_db", "limiter.gloss_db", "gloss", ""])
def test_what_is_no_quantity_is_none(key):
    assert find_quantity(key) is None
    with pytest.raises(KeyError):
        quantity_of(key)


@pytest.mark.parametrize("key", ["loudness_lufs", "true_peak_dbtp"])
def test_what_is_delivered_is_shown_finer_than_the_tolerances_of_delivery(key):
    """A tenth of a unit is what EBU R 128 (2023) asks of meters: more digits than that are shown."""
    assert BY_KEY[key].decimals >= 2
