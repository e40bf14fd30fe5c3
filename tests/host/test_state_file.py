"""State files taken apart. The layout is built here by hand from Steinberg's VST 3 documentation, "Preset Format"."""

from __future__ import annotations

import plistlib
import struct

import pytest
import state_tasks
from plugin_fixtures import done, packaged

from sweeper.errors import StateError
from sweeper.host.state_file import Preset, audio_unit_codes, preset_in, read_state

CLASS = "0123456789ABCDEF0123456789ABCDEF"


def preset(chunks: dict[bytes, bytes], class_id: str = CLASS, list_id: bytes = b"List") -> bytes:
    """A .vstpreset, chunk after chunk behind the header, then the list."""
    body, entries, at = b"", b"", 48
    for id, chunk in chunks.items():
        entries += id + struct.pack("<qq", at, len(chunk))
        body, at = body + chunk, at + len(chunk)
    head = b"VST3" + struct.pack("<i", 1) + class_id.encode() + struct.pack("<q", at)
    return head + body + list_id + struct.pack("<i", len(chunks)) + entries


WHOLE = preset({b"Comp": b"drive=7", b"Cont": b"", b"Info": b"<?xml?>"})


def test_the_class_and_the_plugins_own_part_are_found():
    assert preset_in(WHOLE, "a.vstpreset") == Preset(CLASS, b"drive=7")
    assert preset_in(preset({b"Cont": b"x", b"Comp": b"y"}, CLASS.lower()), "a") == Preset(CLASS, b"y")


def test_what_the_library_writes_is_read(pool, tmp_path):
    """Against a writer of somebody else's: JUCE, inside pedalboard. Class id: the plugin's own."""
    order = state_tasks.Saving(packaged("ZaMaximX2"), tmp_path / "s", {"Threshold": 0.5})
    data = done(pool, "state_tasks:saved", order)
    found = preset_in(data, "s")
    assert found.class_id == "2046504473616C6332584D5A00000000"
    assert b"thresh\x00-15\x00" in found.component


def damaged(data: bytes, at: int, packed: bytes) -> bytes:
    return data[:at] + packed + data[at + len(packed) :]


@pytest.mark.parametrize(
    ("data", "words"),
    [(WHOLE[:20], "it ends after 20 bytes"),
     (WHOLE[:60], "its list of contents lies beyond its end"),
     (WHOLE[:-1], f"it ends after {len(WHOLE) - 1} bytes"),
     (damaged(WHOLE, 40, struct.pack("<q", -1)), "its list of contents lies beyond its end"),
     (damaged(WHOLE, 40, struct.pack("<q", 2**62)), "its list of contents lies beyond its end"),
     (preset({b"Comp": b"x"}, list_id=b"Lost"), "it has no list of contents"),
     (damaged(WHOLE, WHOLE.index(b"List") + 4, struct.pack("<i", -1)), "it has no list of contents"),
     (damaged(WHOLE, WHOLE.index(b"List") + 20, struct.pack("<q", 10**6)), "its part 'Comp' goes beyond its end"),
     (damaged(WHOLE, WHOLE.index(b"List") + 20, struct.pack("<q", -4)), "its part 'Comp' goes beyond its end")],
)  # fmt: skip
def test_what_is_damaged_is_told_before_a_plugin_sees_it(data, words):
    with pytest.raises(StateError) as refused:
        preset_in(data, "a.vstpreset")
    assert refused.value.what == f"a.vstpreset is damaged: {words}"
    assert "sweeper dial CHAIN STAGE" in refused.value.remedy


def test_a_file_without_a_plugins_state_is_refused():
    with pytest.raises(StateError, match=r"a\.vstpreset holds no state of a plugin"):
        preset_in(preset({b"Info": b"x"}), "a.vstpreset")


@pytest.mark.parametrize(
    ("data", "kind"),
    [(b"CcnK\x00\x00\x00\x00FxCh", ", but a VST2 preset (.fxp or .fxb)"), (b"bplist00", ", but an Audio Unit preset"),
     (b"<?xml version='1.0'?>", ", but an XML file"), (b"", ""), (b"no preset at all", "")],
)  # fmt: skip
def test_other_kinds_are_refused_with_what_works(data, kind):
    with pytest.raises(StateError) as refused:
        preset_in(data, "warm.fxp")
    assert refused.value.what == f"warm.fxp is no .vstpreset file{kind}"
    assert "load your preset in the plugin's own window and close that" in refused.value.remedy


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(StateError, match=r"gone\.vstpreset cannot be read: No such file"):
        read_state(tmp_path / "gone.vstpreset")


@pytest.mark.parametrize("form", [plistlib.FMT_XML, plistlib.FMT_BINARY])
def test_an_audio_units_preset_says_whose_it_is(form):
    """Four-character codes as numbers, big-endian: from memory of Apple's documentation."""
    held = {"type": 0x61756678, "subtype": 0x64656C79, "manufacturer": 0x6170706C, "data": b"1", "name": "Warm"}
    assert audio_unit_codes(plistlib.dumps(held, fmt=form), "w.aupreset") == ("aufx", "dely", "appl")


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"junk", "is no .aupreset file"), (b"bplist00junk", "is no .aupreset file"),
     (b"<?xml version='1.0'?><plist", "is no .aupreset file"), (WHOLE, "is no .aupreset file"),
     (plistlib.dumps({"type": 1}), "does not say which Audio Unit it is for"),
     (plistlib.dumps([1]), "does not say which Audio Unit it is for")],
)  # fmt: skip
def test_what_is_no_audio_unit_preset_is_refused(data, words):
    with pytest.raises(StateError, match=words):
        audio_unit_codes(data, "w.aupreset")
