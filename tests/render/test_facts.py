"""Keys rest on the bytes of plugins and states, as sha256 has them. ZaMaximX2: Debian's zam-plugins."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import pytest
from plugin_fixtures import packaged, stage

from sweeper.errors import AudioFileError
from sweeper.plan.tree import variant_key
from sweeper.plan.variants import Variant
from sweeper.records import SOUND_VERSION
from sweeper.render.facts import facts_of, known_files
from sweeper.render.job import BLOCK_FRAMES

GAIN = stage("builtin:Gain", gain_db="-6 dB")


def variants(*stages):
    return [Variant(f"{n:03d}", 0, {}, (one,)) for n, one in enumerate(stages, 1)]


def facts(found, sources: list[str]):
    return facts_of(found, sources, known_files(found))


def test_a_plugins_fact_is_the_hash_of_its_code_and_the_library_that_hosts_it():
    path = packaged("ZaMaximX2")
    (program,) = Path(path).glob("Contents/*-linux/ZaMaximX2.so")
    told = facts(variants(stage(path), GAIN, stage(path, Threshold="-3 dB")), ["mix"])
    assert set(told.programs) == {path, "builtin:Gain"}
    assert hashlib.sha256(program.read_bytes()).hexdigest() in told.programs[path]
    assert all(version("pedalboard") in name for name in told.programs.values())


def test_mixes_block_and_version_of_sound_are_handed_on():
    told = facts(variants(GAIN), ["one", "two"])
    assert told.sources == ("one", "two")
    assert (told.block_frames, told.sound_version) == (BLOCK_FRAMES, SOUND_VERSION)
    assert told.states == {}


def test_a_states_fact_is_the_hash_of_its_content_as_it_is_now(tmp_path):
    state = tmp_path / "a.vstpreset"
    state.write_bytes(b"first")
    (variant,) = variants(replace(GAIN, state=state))
    before = facts([variant], ["mix"])
    assert before.states == {str(state): hashlib.sha256(b"first").hexdigest()}
    state.write_bytes(b"other")
    assert variant_key(variant, before) != variant_key(variant, facts([variant], ["mix"]))


def test_a_state_that_is_gone_is_an_error_that_names_it(tmp_path):
    with pytest.raises(AudioFileError, match=r"gone\.vstpreset"):
        facts(variants(replace(GAIN, state=tmp_path / "gone.vstpreset")), ["mix"])


def test_another_build_of_a_plugin_is_another_fact(tmp_path):
    code = tmp_path / "Own.vst3" / "Contents" / "x86_64-linux" / "Own.so"
    code.parent.mkdir(parents=True)
    found = variants(stage(tmp_path / "Own.vst3"))
    told = []
    for build in (b"one", b"two", b"one"):
        code.write_bytes(build)
        told.append(facts(found, ["mix"]).programs[str(tmp_path / "Own.vst3")])
    assert told[0] == told[2] != told[1]
