"""Whether plugins make of a state what is in it: our own faulty ones, and every one of Debian's zam-plugins."""

from __future__ import annotations

import struct

import pytest
from plugin_fixtures import PACKAGED, done, packaged
from state_tasks import Saving

from sweeper.errors import StateError
from sweeper.host.state_file import preset_in

EVERY_PACKAGED = sorted(path.stem for path in PACKAGED.glob("Za*.vst3"))
BOTH = pytest.mark.parametrize("alone", [False, True], ids=["with a second instance", "alone"])


def saved(pool, path, file, **order) -> bytes:
    return done(pool, "state_tasks:saved", Saving(str(path), file, **order))


def restored(pool, path, file, alone=False) -> dict[str, float]:
    return done(pool, "state_tasks:restored", (str(path), file, alone))


def put_into(data: bytes, more: bytes) -> bytes:
    """A preset whose own part has a setting more at its end, as another version of the plugin writes it."""
    at = data.index(b"__dpf_parameters_end__")
    moved = data[:at] + more + data[at:]
    start = struct.unpack("<q", data[40:48])[0] + len(more)
    moved = moved[:40] + struct.pack("<q", start) + moved[48:]
    size_at = moved.index(b"Comp", start) + 12
    (size,) = struct.unpack("<q", moved[size_at : size_at + 8])
    return moved[:size_at] + struct.pack("<q", size + len(more)) + moved[size_at + 8 :]


def test_seventeen_are_installed():
    assert len(EVERY_PACKAGED) == 17


@BOTH
@pytest.mark.parametrize("name", EVERY_PACKAGED)
@pytest.mark.long
def test_every_packaged_plugin_takes_its_own_state(pool, tmp_path, name, alone):
    file = tmp_path / "state.vstpreset"
    data = saved(pool, packaged(name), file, everything=True, heard=8)
    again = done(pool, "state_tasks:saved_again", (packaged(name), file, alone))
    assert preset_in(again, "again") == preset_in(data, "first")


@BOTH
@pytest.mark.parametrize("name", sorted({*EVERY_PACKAGED} - {"ZamAutoSat", "ZamVerb"}))
def test_a_state_that_another_version_wrote_is_no_false_alarm(pool, tmp_path, name, alone):
    """The doubt goes all its ways and does not come true. One has no settings, the other takes seconds to load."""
    file = tmp_path / "state.vstpreset"
    data = saved(pool, packaged(name), file, everything=True, heard=8)
    stands = restored(pool, packaged(name), file, alone)
    file.write_bytes(put_into(data, b"newer\x001\x00"))
    again = restored(pool, packaged(name), file, alone)
    assert {setting: raw for setting, raw in again.items() if raw != stands[setting]} == {}


@BOTH
def test_a_state_sets_what_it_holds(pool, tmp_path, alone):
    file = tmp_path / "state.vstpreset"
    saved(pool, packaged("ZaMaximX2"), file, positions={"Threshold": 0.3, "Release": 0.6})
    stands = restored(pool, packaged("ZaMaximX2"), file, alone)
    assert (stands["Threshold"], stands["Release"]) == pytest.approx((0.3, 0.6), abs=1e-6)


@BOTH
def test_a_meter_in_a_state_is_no_fault(pool, probes, tmp_path, alone):
    file = tmp_path / "state.vstpreset"
    saved(pool, probes["state_meters"], file, positions={"Drive": 0.8, "Tone": 0.2}, heard=5)
    stands = restored(pool, probes["state_meters"], file, alone)
    assert (stands["Drive"], stands["Tone"]) == pytest.approx((0.8, 0.2), abs=1e-6)


@BOTH
@pytest.mark.parametrize(
    ("probe", "words"),
    [("state_wrong", "'Drive' stood at 3.6, and at 1.8 when that was saved and loaded"),
     ("state_ignored", "it takes no notice of states"),
     ("state_forgetful", "'Tone' stood at 1.3, and at 5 when that was saved and loaded")],
)  # fmt: skip
def test_a_plugin_that_restores_wrongly_is_told(pool, probes, tmp_path, probe, words, alone):
    file = tmp_path / "warm.vstpreset"
    saved(pool, probes[probe], file, positions={"Drive": 0.8, "Tone": 0.8})
    with pytest.raises(StateError) as refused:
        restored(pool, probes[probe], file, alone)
    title = " ".join(word.capitalize() for word in probe.split("_"))
    assert refused.value.what == f"Probe {title} does not restore the state warm.vstpreset: {words}"
    assert "set its settings by name in the chain file" in refused.value.remedy


@BOTH
@pytest.mark.parametrize("probe", ["late", "gliding"])
def test_a_plugin_that_takes_its_time_is_waited_for(pool, probes, tmp_path, probe, alone):
    file = tmp_path / "state.vstpreset"
    saved(pool, probes[probe], file, positions={"Gain": 0.7})
    assert restored(pool, probes[probe], file, alone)["Gain"] == pytest.approx(0.7, abs=1e-6)


def test_the_state_of_another_plugin_is_told_by_its_class(pool, tmp_path):
    file = tmp_path / "comp.vstpreset"
    saved(pool, packaged("ZamCompX2"), file)
    with pytest.raises(StateError) as refused:
        restored(pool, packaged("ZaMaximX2"), file)
    assert refused.value.what == (
        "the state comp.vstpreset is of another plugin than ZaMaximX2: "
        "class 2046504473616C633250435A00000000, not 2046504473616C6332584D5A00000000"
    )
