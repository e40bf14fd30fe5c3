from __future__ import annotations

import pytest

from sweeper.host.place import joined, parted


@pytest.mark.parametrize(
    ("place", "parts"),
    [
        ("/a/Shell.vst3::Comp", ("/a/Shell.vst3", "Comp")),
        ("/a/Shell.vst3 :: Comp / Lim", ("/a/Shell.vst3", "Comp / Lim")),
        ("C:\\a\\Shell.VST3::One::Two", ("C:\\a\\Shell.VST3", "One::Two")),
        ("/b/Unit.component::Comp", ("/b/Unit.component", "Comp")),
        ("/a/One.vst3", ("/a/One.vst3", "")),
        ("builtin:Gain", ("builtin:Gain", "")),
        ("Comp::Mono", ("Comp::Mono", "")),
    ],
)
def test_a_place_is_parted_at_the_files_ending(place, parts):
    assert parted(place) == parts


def test_joined_and_parted_are_each_others_way_back():
    assert parted(joined("/a/Shell.vst3", "Comp")) == ("/a/Shell.vst3", "Comp")
    assert joined("/a/One.vst3", "") == "/a/One.vst3"
