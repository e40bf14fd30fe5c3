"""What stands once a window is closed, with a hand in place of the screen. Packaged plugins: Debian's zam-plugins."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from dialling_tasks import ByHand
from plugin_fixtures import done, packaged, stage, value

from sweeper.dial import window_task
from sweeper.dial.orders import Closed, WindowOrder, Work
from sweeper.dial.signs import Signs
from sweeper.errors import PluginError, StateError
from sweeper.host.setup import Dialled

TASK = "dialling_tasks:dialled"


@pytest.fixture
def order(tmp_path):
    noise = np.random.default_rng(1).standard_normal((44100, 2)) * 0.1
    soundfile.write(tmp_path / "loop.wav", noise, 44100, subtype="FLOAT")
    setup = stage(packaged("ZaMaximX2"), Release="25 ms", Output_Ceiling="-1")
    return WindowOrder(setup, tmp_path / "loop.wav", tmp_path, ("release", "gone"), (), 1024, 20.0)


def standing(pool, path, state: bytes, folder: Path, channels: str = "stereo") -> dict[str, str]:
    """What a new instance with that state shows."""
    (folder / "test.vstpreset").write_bytes(state)
    setup = replace(stage(path, channels), state=folder / "test.vstpreset")
    shown = done(pool, "hosting_tasks:standing", setup)
    assert isinstance(shown, dict)
    return shown


def by_hand(pool, order, **turned) -> Closed:
    closed = done(pool, TASK, ByHand(order, {name.replace("_", " "): raw for name, raw in turned.items()}))
    assert isinstance(closed, Closed)
    return closed


def test_what_was_turned_is_told_and_the_state_has_it(pool, order, tmp_path):
    closed = by_hand(pool, order, Release=0.75, Threshold=0.5)
    assert [(one.name, one.before, one.after) for one in closed.moved] == [
        ("Release", "25 ms", "75.25 ms"), ("Threshold", "0 dB", "-15 dB")]  # fmt: skip
    assert [one.written for one in closed.moved] == ["75.25 ms", "-15 dB"]
    assert closed.controls == {"release": "Release"}
    assert (closed.work, closed.notes) == (Work.DONE, ())
    shown = standing(pool, order.setup.path, closed.state, tmp_path)
    assert (float(shown["Release"]), float(shown["Threshold"])) == pytest.approx((75.25, -15.0))
    assert float(shown["Output Ceiling"]) == pytest.approx(-1.0), "what the file sets is in the state too"


def test_an_untouched_window_has_changed_nothing_though_its_meters_moved(pool, order):
    setup = replace(order.setup, settings=(*order.setup.settings, Dialled("Threshold", "", value("-30 dB"))))
    closed = by_hand(pool, replace(order, setup=setup))
    assert (closed.moved, closed.work) == ((), Work.NONE)


def test_the_other_side_does_not_get_what_the_file_sets_on_one_side(pool, order, tmp_path):
    eq = packaged("ZamEQ2")
    settings = (Dialled("Boost/Cut 1", "mid", value("3 dB")), Dialled("Boost/Cut 1", "side", value("-2 dB")),
                Dialled("Boost/Cut 2", "mid", value("4 dB")))  # fmt: skip
    setup = replace(stage(eq, channels="mid/side"), settings=settings)
    names = ("Boost/Cut 1", "Boost/Cut 2")
    sided = replace(order, setup=setup, names=names, of_one_side=names)
    assert by_hand(pool, sided).work is Work.NONE, "what is taken out of the state for the other side is nobody's work"
    closed = by_hand(pool, sided, **{"Boost/Cut_1": 0.9, "Frequency_1": 0.25})
    assert {one.name for one in closed.moved} == {"Boost/Cut 1", "Frequency 1"}
    shown = standing(pool, eq, closed.state, tmp_path, "mid/side")
    fresh = done(pool, "hosting_tasks:standing", stage(eq, channels="mid/side"))
    assert shown["Boost/Cut 1"] == fresh["Boost/Cut 1"]
    assert shown["Boost/Cut 2"] == fresh["Boost/Cut 2"], "4 dB are for mid alone"
    assert shown["Frequency 1"] != fresh["Frequency 1"]
    assert closed.notes == ()


def test_meters_are_told_from_settings(pool, order, probes):
    """One that counts, and so never stands still: alone it hides what was dialled, beside a setting it is left out."""
    counting = replace(order, setup=stage(probes["state_meters"]), names=())
    closed = by_hand(pool, counting)
    assert (closed.moved, closed.work) == ((), Work.UNKNOWN)
    closed = by_hand(pool, counting, Tone=1.0)
    assert [(one.name, one.before, one.after) for one in closed.moved] == [("Tone", "5", "10")]
    assert (closed.work, closed.notes) == (Work.DONE, ())


def test_a_plugin_that_does_not_take_its_own_state_is_told_with_what_was_dialled(pool, order, probes):
    faulty = replace(order, setup=stage(probes["state_forgetful"]), names=())
    with pytest.raises(StateError) as refused:
        by_hand(pool, faulty, Tone=1.0)
    assert refused.value.remedy == "write it into the settings by hand: Tone: 10"
    assert Signs(order.folder).kept.read_bytes()[:4] == b"VST3"


def test_a_sign_closes_the_window(pool, order):
    Signs(order.folder).ask_to_close()
    closed = done(pool, TASK, ByHand(order, {"Release": 1.0}, open_s=60.0))
    assert isinstance(closed, Closed)
    assert closed.work is Work.DONE


def test_the_state_is_kept_while_the_window_is_open(pool, order, tmp_path):
    done(pool, TASK, ByHand(order, {"Release": 1.0}, open_s=5.5))
    kept = Signs(order.folder).kept
    assert float(standing(pool, order.setup.path, kept.read_bytes(), tmp_path)["Release"]) == pytest.approx(100.0)


def test_a_disk_that_is_full_is_told_once_and_closes_no_window(tmp_path, monkeypatch):
    monkeypatch.setattr(window_task, "KEEP_EVERY_S", 0.0)
    monkeypatch.setattr(window_task, "_LOOK_EVERY_S", 0.0)
    states = iter((b"1", b"2", b"2", b"2"))
    told: list[str] = []
    plugin, gone = SimpleNamespace(save_state=lambda: next(states)), tmp_path / "gone"
    watch = window_task._Watch(plugin, Signs(gone), lambda: False, told.append)
    assert not watch.is_set() and not watch.is_set()
    assert len(told) == 1
    assert f"cannot be kept in {gone}: No such file" in told[0]
    gone.mkdir()
    assert not watch.is_set()
    assert Signs(gone).kept.read_bytes() == b"2", "and tried again"


def test_a_plugin_that_gives_no_numbers_while_it_plays_ends_the_window_and_keeps_the_state(pool, order, probes):
    faulty = replace(order, setup=stage(probes["nan_process"]), names=())
    with pytest.raises(PluginError, match="no number"):
        done(pool, TASK, ByHand(faulty, {}, open_s=60.0))
    assert Signs(order.folder).kept.read_bytes()[:4] == b"VST3"


def test_a_window_that_does_not_open_is_told_with_its_stage(pool, order):
    with pytest.raises(PluginError, match=r"^stage 'stage' \(ZaMaximX2\): no editor"):
        done(pool, TASK, ByHand(order, {}, fails="no editor"))


def test_a_stage_that_may_be_loaded_once_is_dialled_without_a_second_instance(pool, order):
    closed = by_hand(pool, replace(order, setup=replace(order.setup, instances=1)), Release=0.75)
    assert [one.written for one in closed.moved if one.name == "Release"] == ["75.25 ms"]


def test_what_no_setting_shows_is_work_where_the_state_stands_still(pool, order):
    """A setting moved by less than is looked at stands for whatever else a plugin keeps in its state."""
    closed = by_hand(pool, order, Release=24 / 99 + 1e-6)
    assert (closed.moved, closed.work) == ((), Work.DONE)
