"""Stages with real plugins, in a worker. Packaged plugins: Debian's zam-plugins."""

from __future__ import annotations

from dataclasses import replace

import hosting_tasks
import numpy as np
import pytest
from hosting_tasks import Clip
from plugin_fixtures import done, packaged, stage

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Travel
from sweeper.errors import PluginError, SettingError, StateError
from sweeper.host.setup import RideSetup
from sweeper.units import gain


def rendered(pool, *stages, **clip):
    return done(pool, "hosting_tasks:streamed", Clip(stages, **clip))


def source(*stages, **clip):
    return hosting_tasks.clip_samples(Clip(stages, **clip))


def test_settings_are_made_by_name_unit_and_text_and_read_back(pool):
    setup = stage(packaged("ZaMaximX2"), threshold="-7,3 dB", Release="0.03 s", Output_Ceiling="-1 dB")
    found = {a.name: a for a in done(pool, "hosting_tasks:applied", setup)}
    assert float(found["Threshold"].text) == pytest.approx(-7.3, abs=1e-4)
    assert float(found["Release"].text) == pytest.approx(30, abs=1e-4)
    assert found["Output Ceiling"].raw == pytest.approx(29 / 30, abs=1e-6)


@pytest.mark.parametrize(
    ("settings", "words"),
    [({"Threshold": "-40 dB"}, "it goes from -30 to 0 dB"), ({"Release": "4 dB"}, "'Release' is in ms, not in dB"),
     ({"Treshold": "-4 dB"}, "did you mean 'Threshold'?")],
)  # fmt: skip
def test_a_wrong_setting_is_refused(pool, settings, words):
    with pytest.raises(SettingError, match=words.replace("?", r"\?")):
        done(pool, "hosting_tasks:applied", stage(packaged("ZaMaximX2"), **settings))


@pytest.mark.parametrize("channels", ["left/right", "mid/side", "mid", "side"])
def test_a_mono_plugin_runs_on_each_side(pool, probes, channels):
    out = rendered(pool, stage(probes["mono_gain"], channels, Gain="-6 dB"))
    left, right = source().astype(np.float64)
    mid, side = (left + right) / 2, (left - right) / 2
    if channels in ("mid/side", "mid"):
        mid = mid * gain(-6)
    if channels in ("mid/side", "side"):
        side = side * gain(-6)
    expected = np.stack([mid + side, mid - side])
    if channels == "left/right":
        expected = np.stack([left, right]) * gain(-6)
    assert np.abs(out - expected).max() < 1e-5


def test_a_setting_for_one_side_leaves_the_other_alone(pool, probes):
    from plugin_fixtures import value

    from sweeper.host.setup import Dialled

    settings = (Dialled("Gain", "left", value("-6 dB")), Dialled("Gain", "right", value("3 dB")))
    out = rendered(pool, replace(stage(probes["mono_gain"], "left/right"), settings=settings))
    assert np.abs(out - source() * np.array([[gain(-6)], [gain(3)]])).max() < 1e-5


def test_a_stereo_plugin_on_mid_gets_mid_on_both_inputs(pool, probes):
    out = rendered(pool, stage(probes["gain"], "mid", Gain="6.25 dB"))
    assert np.abs(out - source()).max() < 1e-5, "the gain built in, -6.25 dB, is made good on the mid alone"


def test_a_mono_plugin_on_a_stereo_mix_names_the_ways_out(pool, probes):
    with pytest.raises(PluginError, match="left/right") as refused:
        rendered(pool, stage(probes["mono_gain"]))
    assert "takes one channel, the mix has two" in refused.value.what


def test_a_mono_mix_goes_through_a_stereo_plugin(pool, probes):
    mono = AudioFormat(1, 44100)
    out = rendered(pool, stage(probes["gain"], Gain="6.25 dB"), format=mono)
    assert out.shape[0] == 1
    assert np.abs(out - source(format=mono)).max() < 1e-5


def test_a_mono_mix_has_no_sides(pool, probes):
    with pytest.raises(PluginError, match="a mono mix has no mid/side"):
        rendered(pool, stage(probes["gain"], "mid/side"), format=AudioFormat(1, 44100))


@pytest.mark.parametrize("varied", [False, True], ids=["of the stage", "varied"])
def test_trims_stand_before_and_after_the_plugin(pool, probes, varied):
    if varied:
        setup = stage(probes["shaper"], Second="0.5", Third="0", input_trim="-6 dB", output_trim="6 dB")
    else:
        setup = replace(stage(probes["shaper"], Second="0.5", Third="0"), input_trim_db=-6.0, output_trim_db=6.0)
    x = source(level=0.05) * np.float32(gain(-6))
    assert np.abs(rendered(pool, setup, level=0.05) - (x + 0.5 * x * x) * gain(6)).max() < 1e-5


def test_trims_of_a_stage_on_the_mid_leave_the_side_alone(pool, probes):
    out = rendered(pool, stage(probes["mono_gain"], "mid", output_trim="-6 dB"))
    left, right = source().astype(np.float64)
    mid, side = gain(-6) * (left + right) / 2, (left - right) / 2
    assert np.abs(out - np.stack([mid + side, mid - side])).max() < 1e-5


def test_bypass_leaves_the_sound_alone(pool, probes):
    setup = replace(stage(probes["gain"], Gain="-20 dB", input_trim="3 dB"), bypass=True)
    assert np.array_equal(rendered(pool, setup), source())


def test_a_setting_that_the_plugin_refuses_fails_and_says_what_stands(pool, probes):
    name = "Amount"
    with pytest.raises(SettingError, match=f"'{name}' did not stick: set to 80 % travel") as refused:
        done(pool, "hosting_tasks:applied", stage(probes["refuse_set"], **{name: "80 % travel"}))
    assert "showed 5" in refused.value.what


def test_a_ride_that_the_plugin_does_not_follow_fails_before_anything_sounds(pool, probes):
    lift = RideSetup("lift", "Amount", "", Travel(0.2, "20 % travel"), True, ((0.4, 0.6),), 0.1)
    with pytest.raises(SettingError, match="'Amount' did not stick: set to 20 % travel"):
        done(pool, "hosting_tasks:applied", replace(stage(probes["refuse_set"]), rides=(lift,)))


def test_two_settings_of_one_name_are_told_apart(pool, probes):
    found = done(pool, "hosting_tasks:standing", stage(probes["twin_names"]))
    assert list(found)[:2] == ["Band (1)", "Band (2)"]


def test_thousands_of_settings_load_in_seconds(pool, probes):
    plugin = done(pool, "hosting_tasks:described", probes["many_settings"])
    assert len(plugin.settings) >= 2000


def test_every_kind_of_setting_is_shown(pool, probes):
    plugin = done(pool, "hosting_tasks:described", probes["choices"])
    shown = {setting.name: setting for setting in plugin.settings}
    assert any(setting.choices == ("Clean", "Warm", "Hot") for setting in shown.values())
    assert "Meter" not in shown
    assert "Meter" in plugin.hidden
    assert shown["Frequency"].unit == "Hz"


@pytest.mark.parametrize(
    ("plugin", "name", "low", "high"),
    [("ZamEQ2", "Boost/Cut 1", -50, 20), ("ZamEQ2", "Boost/Cut H", -50, 20), ("ZamCompX2", "Threshold", -60, 0),
     ("ZaMaximX2", "Threshold", -30, 0), ("ZaMaximX2", "Output Ceiling", -30, 0), ("ZaMaximX2", "Release", 1, 100)],
)  # fmt: skip
def test_every_tenth_in_the_range_of_a_real_plugin_is_taken(pool, plugin, name, low, high):
    values = tuple(f"{tenth / 10:g}" for tenth in range(low * 10, high * 10 + 1))
    assert done(pool, "hosting_tasks:refused", (packaged(plugin), name, values)) == []


def test_a_knob_turns_in_the_plugins_unit_within_its_range(pool):
    unit, low, high, stands = done(pool, "hosting_tasks:turned", (stage(packaged("ZaMaximX2")), "threshold", -12.34))
    assert (unit, low, high) == ("dB", -30, 0)
    assert stands == pytest.approx(-12.34, abs=1e-4)


def test_a_knob_says_where_it_stands_not_where_it_was_to_go(pool, probes):
    *ends, stands = done(pool, "hosting_tasks:turned", (stage(probes["choices"]), "Stages", 2.4))
    assert ends == ["", 1, 4]
    assert stands == pytest.approx(2, abs=1e-6)


def test_a_setting_that_moves_while_it_renders_is_told(pool, probes):
    said = done(pool, "hosting_tasks:drift", Clip((stage(probes["wandering"], Amount="6"),)))
    assert said == "'Amount' moved during the render: 6.000000, then 10.000000"


def test_settings_that_stay_are_not_said_to_move(pool, probes):
    for setup in (stage(probes["gain"], Gain="-6 dB"), stage("builtin:Gain", gain_db="-6 dB")):
        assert done(pool, "hosting_tasks:drift", Clip((setup,))) == ""


def test_a_trim_is_a_knob_too(pool):
    turned = done(pool, "hosting_tasks:turned", (stage("builtin:Gain"), "input trim", 7.5))
    assert turned == ("dB", -60, 60, 7.5)


def test_a_state_comes_back(pool, tmp_path):
    file = tmp_path / "limiter.vstpreset"
    setup = stage(packaged("ZaMaximX2"), Threshold="-11 dB", Release="44 ms")
    done(pool, "hosting_tasks:saved_state", (setup, file))
    restored = done(pool, "hosting_tasks:standing", replace(stage(packaged("ZaMaximX2")), state=file))
    assert float(restored["Threshold"]) == pytest.approx(-11, abs=1e-3)
    assert float(restored["Release"]) == pytest.approx(44, abs=1e-3)


@pytest.mark.parametrize("damage", ["junk", "truncated", "foreign", "missing"])
def test_a_state_that_is_not_the_plugins_is_refused(pool, tmp_path, damage):
    file = tmp_path / "limiter.vstpreset"
    other = packaged("ZamCompX2" if damage == "foreign" else "ZaMaximX2")
    done(pool, "hosting_tasks:saved_state", (stage(other), file))
    if damage == "junk":
        file.write_bytes(b"no preset at all")
    if damage == "truncated":
        file.write_bytes(file.read_bytes()[:100])
    if damage == "missing":
        file.unlink()
    with pytest.raises(StateError, match=r"limiter\.vstpreset"):
        done(pool, "hosting_tasks:standing", replace(stage(packaged("ZaMaximX2")), state=file))


def test_builtin_settings_are_exact(pool):
    setup = stage("builtin:BrickwallLimiter", ceiling_db="-1 dB", true_peak="on", lookahead_ms="3 ms")
    found = {a.name: a.text for a in done(pool, "hosting_tasks:applied", setup)}
    assert found == {"ceiling db": "-1.0", "true peak": "on", "lookahead ms": "3.0"}
