"""The file that `sweeper start` writes loads as it stands, whatever the mixes are called."""

from __future__ import annotations

import os
import re

import pedalboard
import pytest

from sweeper.chain import KEYS, Choice, Explore, Number, Switch, TemplateMix, load_chain, template
from sweeper.quantities import BY_NAME

EVERYWHERE = ["it's #2.wav", "Grün – Äther.wav", "- dash.wav", "{curly}.wav", "[a, b].wav", "100 %.wav", " & ! .wav",
              "two  spaces.wav", "\u00a0.wav", "“heroes”.wav", "日本.wav", "&x.wav", "@x.wav"]  # fmt: skip
NOT_ON_WINDOWS = ["a \"mix\".wav", "Song: live.wav", "a\\b.wav", "*.wav", "a\\U0001.wav"]
ODD = EVERYWHERE + (NOT_ON_WINDOWS if os.name != "nt" else [])


def mix(path: str, loudness_lufs: float | None = -16.04) -> TemplateMix:
    return TemplateMix(path, 245.3, loudness_lufs, 44100)


def loaded(folder, mixes, title="A title"):
    for each in mixes:
        (folder / each.path).touch()
    (folder / "new.chain.yaml").write_text(template(mixes, title), encoding="utf-8")
    return load_chain(folder / "new.chain.yaml")


@pytest.mark.parametrize("name", ODD)
def test_a_mix_of_any_name_loads(tmp_path, name):
    chain = loaded(tmp_path, [mix(name)], title=name)
    (mix_read,) = chain.mixes
    assert (mix_read.written, mix_read.file) == (name, tmp_path / name)


def test_several_mixes_load_with_the_album_said(tmp_path):
    chain = loaded(tmp_path, [mix(name) for name in ODD])
    assert len(chain.mixes) == len(ODD)
    assert "album: each to target" in chain.text


def test_it_solves_the_limiters_drive_for_the_loudness(tmp_path):
    chain = loaded(tmp_path, [mix("a.wav")], title="Lantern: Bay #1")
    assert chain.title == "Lantern: Bay #1"
    assert [stage.name for stage in chain.stages] == ["low cut", "limiter"]
    (reach,) = chain.reach
    assert (reach.key, reach.goal, reach.within, str(reach.by)) == ("loudness_lufs", -14, 0.1, "limiter.drive")
    (drive, ceiling) = chain.output[0].handles
    assert (drive.direction, drive.setting, ceiling.setting) == ("raise", "input trim", "ceiling db")


def test_its_settings_are_those_of_the_built_in_effects(tmp_path):
    """The effects' own properties are the names, with spaces."""
    for stage in loaded(tmp_path, [mix("a.wav")]).stages:
        effect = getattr(pedalboard, stage.plugin.removeprefix("builtin:"))
        for each in stage.settings:
            assert hasattr(effect, each.name.replace(" ", "_")), each.name
            assert not isinstance(each.value, Choice)


def test_its_numbers_are_read_with_their_units(tmp_path):
    limiter = loaded(tmp_path, [mix("a.wav")]).output[0]
    assert [each.value for each in limiter.settings] == [
        Number(-1.2, "dB", "-1.2 dB"), Number(100, "ms", "100 ms"), Switch(True, "on")]  # fmt: skip


def test_it_tells_of_each_mix(tmp_path):
    text = template([mix("a.wav"), mix("b.wav", None)], "x")
    assert '- "a.wav"   # 4:05.3, -16.0 LUFS, 44.1 kHz' in text
    assert '- "b.wav"   # 4:05.3, no loudness, 44.1 kHz' in text


def test_every_commented_example_loads_once_uncommented(tmp_path):
    """The examples a user would uncomment are right, each key of them known."""
    (tmp_path / "a-record-the-client-likes.wav").touch()
    (tmp_path / "a.wav").touch()
    (tmp_path / "states").mkdir()
    (tmp_path / "states" / "glue.vstpreset").touch()
    (tmp_path / "from tape").mkdir()
    example = re.compile(r"^( *)# ((?:  )?(?:[a-z ]+(?:\.[a-z ]+)+|[a-z ]+|- [a-z ]+): ?.*)$", re.MULTILINE)
    text = example.sub(r"\1\2", template([mix("a.wav")], "x"))
    text = re.sub(r"^mix: .*$", "", text, count=1, flags=re.MULTILINE).replace("NAME.wav", "a.wav")
    (tmp_path / "new.chain.yaml").write_text(text, encoding="utf-8")
    chain = load_chain(tmp_path / "new.chain.yaml")
    assert len(chain.vary) == 7
    assert chain.sequence == (("glue",), ("colour",), ("glue", "colour"))
    assert [choice.label for choice in chain.inserts[2].choices] == ["Valve Colour", "Iron Colour"]
    assert [(reach.key, str(reach.by)) for reach in chain.reach] == [
        ("loudness_lufs", "limiter.drive"), ("true_peak_dbtp", "limiter.ceiling")]  # fmt: skip
    assert (len(chain.limits), len(chain.prefer), len(chain.references)) == (2, 1, 1)
    assert chain.match_over == ("last chorus",)
    assert chain.explore == Explore(60, 1, 24)
    assert (chain.inserts[1].bypass, chain.inserts[1].tail_s, chain.inserts[1].latency) == (
        True, 2, Number(512, "samples", "512 samples"))  # fmt: skip
    assert [(choice.blend, choice.instances) for choice in chain.inserts[2].choices] == [(0.7, 1), (0.7, 1)]
    assert (chain.inserts[3].outside, chain.inserts[3].returned) == ("the tape machine", tmp_path / "from tape")
    assert [(stage.name, stage.output_trim_db, stage.is_fader) for stage in chain.buses] == [
        ("lift comp", 0, False), ("lift", -12, True)]  # fmt: skip
    assert [(str(ride.ref), ride.sections, ride.ramp_s) for ride in chain.rides] == [
        ("lift.level", ("last chorus",), 0.5)]  # fmt: skip
    assert chain.reach[0].stop_at[0].key == "crest_db"


def test_no_mix_is_a_mistake_of_the_caller():
    with pytest.raises(ValueError, match="at least one mix"):
        template([], "x")


def test_it_shows_nearly_every_key():
    text = template([mix("a.wav")], "x") + template([mix("a.wav"), mix("b.wav")], "x")
    in_own_files = ("print spec", "album file", "track")
    own = [keys for place, keys in KEYS.items() if place not in in_own_files]
    shown = {key for keys in own for key in keys if f"{key}:" in text}
    unshown = {key for keys in own for key in keys} - shown
    assert unshown <= {"input trim", *BY_NAME} - {"loudness", "true peak"}
