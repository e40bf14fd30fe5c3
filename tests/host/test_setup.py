"""A stage with one setting changed: what stands on each side afterwards is what would stand had it been made last."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.chain.model import Channels, Number
from sweeper.host.setup import Dialled, StageSetup, plugin_word
from sweeper.units import folded


def dialled(name: str, value: float, side: str = "") -> Dialled:
    return Dialled(name, side, Number(value, "", f"{value:g}"))


def stage(channels: Channels, *settings: Dialled) -> StageSetup:
    return StageSetup("glue", "/lib/Glue.vst3", None, channels, settings)


def standing(channels: Channels, settings) -> dict[tuple[str, str], float]:
    """(control, side) -> its value, when the settings are made one after the other."""
    found = {}
    for setting in settings:
        for side in (setting.side,) if setting.side else channels.sides:
            found[(folded(setting.name), side)] = setting.value.value
    return found


@st.composite
def changes(draw):
    """Channels, and settings for one or for every side, under names that differ in case and spaces only."""
    channels = draw(st.sampled_from(Channels))
    one = st.builds(dialled, st.sampled_from(["Gain", "gain", "G ain", "Mix"]), st.integers(0, 9),
                    st.sampled_from(["", *channels.sides]))  # fmt: skip
    return channels, draw(st.lists(one, min_size=1, max_size=6))


@given(changes())
def test_made_one_after_the_other_or_each_replacing_what_it_changes_is_the_same(change):
    channels, settings = change
    setup = stage(channels)
    for setting in settings:
        setup = setup.with_setting(setting)
    assert standing(channels, setup.settings) == standing(channels, settings)
    made = [(folded(s.name), side) for s in setup.settings for side in ((s.side,) if s.side else channels.sides)]
    assert len(made) == len(set(made)), "nothing is set twice"
    assert setup.settings[-1] == settings[-1]


def test_a_side_of_its_own_leaves_the_others_where_they_were():
    setup = stage(Channels.MID_SIDE, dialled("Gain", 1), dialled("Mix", 5)).with_setting(dialled("gain", 2, "side"))
    assert [(s.name, s.side, s.value.value) for s in setup.settings] == [
        ("Gain", "mid", 1), ("Mix", "", 5), ("gain", "side", 2)]  # fmt: skip


def test_nothing_else_of_the_stage_changes_nor_does_the_stage_that_was():
    before = StageSetup("glue", "p", None, Channels.STEREO, (dialled("Gain", 1),), -1.0, 2.0, True, "Valve", True)
    after = before.with_setting(dialled("Gain", 3))
    assert before.settings == (dialled("Gain", 1),)
    assert after.settings == (dialled("Gain", 3),)
    assert (after.input_trim_db, after.output_trim_db, after.bypass, after.label, after.output) == (
        -1.0, 2.0, True, "Valve", True)  # fmt: skip


@pytest.mark.parametrize(("path", "word"), [("/usr/lib/vst3/My Comp.vst3", "My Comp"), ("builtin:Gain", "builtin:Gain"),
                                            ("a.b.vst3", "a.b")])  # fmt: skip
def test_messages_name_a_plugin_without_folder_and_ending(path, word):
    assert plugin_word(path) == word
