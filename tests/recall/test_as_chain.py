"""A sheet as a chain file: it loads whatever the names are, and positions come back to the bit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plugin_fixtures import packaged
from recall_sheets import CEILING, LIMITER, RELEASE, SHEET, THRESHOLD

from sweeper.chain import Travel, load_chain
from sweeper.recall.as_chain import chain_text, default_target, travel
from sweeper.recall.find import Found
from sweeper.recall.setups import set_up
from sweeper.records import Returned, RideRecord


def loaded(folder: Path, *records, title="Lantern", mix="mix.wav"):
    (folder / mix).touch()
    found = Found(replace(SHEET, title=title, stages=records), folder / "recall.json", None)
    target = folder / "new.chain.yaml"
    text = chain_text(found, set_up(found, folder), mix, target)
    target.write_text(text, encoding="utf-8")
    return load_chain(target)


@given(st.floats(0, 1, width=32))
def test_a_32_bit_position_comes_back(raw):
    written = float(travel(raw, True)) / 100
    assert np.float32(written) == np.float32(raw)
    digits = travel(raw, True).split("e")[0].replace(".", "").lstrip("0")
    assert len(digits) <= 9, "a 32-bit float is known by nine digits (IEEE 754-2008, 5.12.2)"


@given(st.floats(0, 1))
def test_a_64_bit_position_comes_back(raw):
    assert float(travel(raw, False)) / 100 == pytest.approx(raw, rel=2.0**-51, abs=1e-300)


def test_round_positions_are_written_round():
    assert [travel(raw, True) for raw in (0.0, 0.5, 1.0, float(np.float32(0.1)))] == ["0", "50", "100", "10"]


def test_every_part_of_a_stage_is_there_and_loads(tmp_path):
    packaged("ZaMaximX2")
    mid, side = (replace(THRESHOLD, side=s, raw=raw) for s, raw in (("mid", 0.25), ("side", 0.75)))
    eq = replace(LIMITER, name="eq", channels="mid/side", settings=(mid, side), output=False, input_trim_db=1 / 3)
    chain = loaded(tmp_path, eq, replace(LIMITER, name="out", bypass=True, settings=(), output_trim_db=0.0), LIMITER)
    assert [(s.name, s.output, s.bypass, s.plugin) for s in chain.stages] == [
        ("eq", False, False, "ZaMaximX2"), ("out", True, True, "ZaMaximX2"), ("limiter", True, False, "ZaMaximX2"),
    ]  # fmt: skip
    assert [(a.name, a.side, a.value.fraction) for a in chain.stages[0].settings] == [
        ("Threshold", "mid", 0.25), ("Threshold", "side", 0.75),
    ]  # fmt: skip
    assert (chain.stages[0].input_trim_db, chain.stages[0].output_trim_db) == (1 / 3, -0.35)
    values = [a.value for a in chain.stages[2].settings]
    assert all(isinstance(value, Travel) for value in values)
    assert [np.float32(value.fraction) for value in values] == [np.float32(THRESHOLD.raw), np.float32(CEILING.raw)]
    assert (chain.title, chain.vary, chain.reach, chain.limits) == ("Lantern", (), (), ())


def test_how_a_stage_stands_in_the_chain_comes_back_whole(tmp_path):
    rides = (RideRecord("up", "input trim", "", "+3\ndB", True, 3.1, ((1.0, 2.5),), 0.2),
             RideRecord("thick", "blend", "", "0.4", False, 0.4, ((3.0, 4.0),), 0.05))  # fmt: skip
    glue = replace(LIMITER, name="glue", output=False, blend=0.35, inverted=True, latency="0.01 s", tail_s=1.25,
                   instances=1, rides=rides)  # fmt: skip
    fader = replace(LIMITER, name="lift", plugin="", path="", settings=(), standing=(), output=False, bus="lift",
                    is_fader=True, output_trim_db=-12.5)  # fmt: skip
    chain = loaded(tmp_path, glue, replace(LIMITER, name="dense", output=False, bus="lift"), fader, LIMITER)
    first, on_bus, bus = chain.stages[:3]
    assert (first.blend, first.inverted, first.tail_s, first.instances) == (0.35, True, 1.25, 1)
    assert (first.latency.value, first.latency.unit) == (10.0, "ms")
    assert (on_bus.name, on_bus.bus) == ("dense", "lift")
    assert (bus.name, bus.is_fader, bus.output_trim_db) == ("lift", True, -12.5)
    assert [(r.name, r.ref.setting, r.relative, r.spans, r.ramp_s) for r in chain.rides] == [
        ("up", "input trim", True, ((1.0, 2.5),), 0.2), ("thick", "blend", False, ((3.0, 4.0),), 0.05),
    ]  # fmt: skip
    assert [r.amount.value for r in chain.rides] == [3.1, 40]


@pytest.mark.parametrize("there", [True, False])
def test_a_stage_outside_says_that_it_is_sent_out_anew(tmp_path, there):
    back = tmp_path / "returns"
    if there:
        back.mkdir()
    came = Returned(str(back / "tape-1.wav"), "d" * 64, "e" * 64, "f" * 64, 777.0)
    tape = replace(LIMITER, name="tape", plugin="", path="", settings=(), standing=(), output=False,
                   outside="the tape machine", returned=(came,), output_trim_db=0.0)  # fmt: skip
    chain = loaded(tmp_path, tape, LIMITER)
    assert (chain.stages[0].outside, chain.stages[0].returned) == ("the tape machine", back if there else None)
    assert "# A run of this file sends it out anew" in chain.text
    assert ('# not there any more: returned: "returns"   # tape-1.wav' in chain.text) is not there


def test_what_nobody_set_is_told_and_not_set(tmp_path):
    chain = loaded(tmp_path, LIMITER)
    assert f'# left alone: "Release": {travel(RELEASE.raw, True)} % travel   # 25.000000' in chain.text
    assert "Release" not in [a.name for a in chain.stages[0].settings]


ODD = ["it's #2", "Grün – Äther", "- dash", "{curly}", "[a, b]", "100 %", "& !", "日本", "@x", "Song: live", "'", "“q”",
       "null", "on", "#", "12", "~"]  # fmt: skip


@pytest.mark.parametrize("name", [*ODD, 'a "quote"', "back\\slash"])
def test_names_of_any_kind_load(tmp_path, name):
    chain = loaded(tmp_path, replace(LIMITER, settings=(replace(THRESHOLD, name=name, text=f"{name}\n\t: #{name}"),)),
                   title=name)  # fmt: skip
    assert chain.title == name
    assert [a.name for a in chain.stages[0].settings] == [name]


def test_a_plugin_that_is_not_installed_is_said_in_the_file(tmp_path):
    chain = loaded(tmp_path, replace(LIMITER, path="/gone/Nosuch Limiter.vst3"))
    assert chain.stages[0].plugin == "Nosuch Limiter"
    assert "# not installed here: no plugin is called 'Nosuch Limiter'" in chain.text


def test_a_plugin_outside_the_usual_folders_is_named_by_its_file(tmp_path, probes):
    chain = loaded(tmp_path, replace(LIMITER, plugin="Probe Gain", path=str(probes["gain"])))
    assert chain.stages[0].plugin == probes["gain"].as_posix()


def test_a_state_is_named_from_the_chain_files_folder(tmp_path):
    import hashlib

    (tmp_path / "states").mkdir()
    state = tmp_path / "states" / "glue.vstpreset"
    state.write_bytes(b"VST3")
    record = replace(LIMITER, state_file=str(state), state_sha256=hashlib.sha256(b"VST3").hexdigest())
    chain = loaded(tmp_path, record)
    assert 'state: "states/glue.vstpreset"' in chain.text
    assert chain.stages[0].state == state


def test_the_file_is_called_for_its_title_and_variant():
    assert default_target(replace(SHEET, title="Grün & Blau!")) == Path("grun-blau-004.chain.yaml")
