"""What is heard of a run, made playable and matched; loudness held against pyloudnorm."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import heard_runs
import numpy as np
import pytest
import soundfile
from whole_runs import outside_lufs

from sweeper.audition.gathered import gathered
from sweeper.audition.heard import Kind, heard
from sweeper.errors import RunFolderError


def test_the_variants_come_first_best_first_then_the_mix_then_the_references(ready):
    assert [one.found.id for one in ready.sounds] == ["002", "001", "003", "mix-1", "reference-1-1"]
    assert [one.found.kind for one in ready.sounds][3:] == [Kind.MIX, Kind.REFERENCE]


def test_everything_is_equally_loud_and_nothing_clips_at_the_matched_level(ready, tmp_path):
    levels = []
    for one in ready.sounds:
        samples, rate_hz = soundfile.read(one.file, always_2d=True)
        matched = tmp_path / f"{one.found.id}.wav"
        soundfile.write(matched, samples * 10 ** (one.gain_db / 20), rate_hz, subtype="FLOAT")
        levels.append(outside_lufs(matched))
        assert one.look.measured["true_peak_dbtp"] + one.gain_db <= 0.01
    assert max(levels[:4]) - min(levels[:4]) < 0.01, "of one length: the same blocks are gated"
    assert max(levels) - min(levels) < 0.1


def test_what_is_played_is_a_32_bit_float_wav_at_the_mixs_rate_and_variants_are_not_copied(run, ready):
    for one in ready.sounds:
        info = soundfile.info(one.file)
        assert (info.format, info.subtype, info.samplerate) == ("WAV", "FLOAT", 44100)
        raw = np.fromfile(one.file, "<f4", offset=one.look.data_offset).reshape(-1, one.look.channels)
        assert np.array_equal(raw, soundfile.read(one.file, dtype="float32", always_2d=True)[0])
    assert ready.sounds[0].file == run / "variants" / "002" / "render.wav"
    mix = next(one for one in ready.sounds if one.found.kind is Kind.MIX)
    original, _ = soundfile.read(run.parent / "mix.wav", dtype="float32", always_2d=True)
    assert np.array_equal(soundfile.read(mix.file, dtype="float32", always_2d=True)[0], original)


def test_a_reference_of_another_rate_is_converted_keeps_its_time_and_says_so(ready):
    reference = ready.sounds[-1]
    assert reference.note == "converted from 48000 Hz to 44100 Hz"
    assert reference.look.frames == pytest.approx(3.0 * 44100, abs=1)


def test_levels_are_matched_over_the_section_that_is_asked_for(run, pool):
    found = gathered(run, (), ("chorus",), pool)
    stretch = slice(2 * 44100, 4 * 44100)
    import pyloudnorm

    levels = []
    for one in found.sounds[:4]:
        samples, rate_hz = soundfile.read(one.file, always_2d=True)
        meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
        levels.append(meter.integrated_loudness(samples[stretch] * 10 ** (one.gain_db / 20)))
    # the stretch is cut out here, and heard in its place there: its first block differs
    assert max(levels) - min(levels) < 0.03
    assert found.matched_over == ("chorus",)


def test_a_section_that_is_not_there_is_refused_with_those_that_are(run, pool):
    with pytest.raises(RunFolderError, match="no section 'bridge'") as caught:
        gathered(run, (), ("bridge",), pool)
    assert "verse, chorus" in caught.value.remedy


@pytest.mark.parametrize(("id", "what"), [("009", "has no variant '009'"), ("../001", "has no variant")])
def test_a_variant_that_is_not_there_is_refused(run, id, what):
    with pytest.raises(RunFolderError, match=what):
        heard(run, (id,))


def test_variants_may_be_named_without_their_zeros(run):
    assert [one.id for one in heard(run, ("3", "1")).mixes[0].sounds][:2] == ["001", "003"]


def test_a_variant_whose_sound_was_not_kept_is_refused_with_how_to_make_it_again(run, tmp_path):
    run = heard_runs.copied(run, tmp_path)
    (run / "variants/002/render.wav").unlink()
    assert [one.id for one in heard(run).mixes[0].sounds][:2] == ["001", "003"]
    with pytest.raises(RunFolderError, match="the sound of variant 002 is not there") as caught:
        heard(run, ("002",))
    assert "sweeper recall" in caught.value.remedy


def test_a_mix_that_moved_is_taken_from_the_runs_own_copy_at_its_own_level(run, tmp_path, pool):
    run = heard_runs.copied(run, tmp_path)
    ledger = json.loads((run / "run.json").read_text())
    ledger["answer"]["mixes"][0]["match_gain_db"] = -6.0
    (run / "run.json").write_text(json.dumps(ledger))
    samples, rate_hz = soundfile.read(run.parent / "mix.wav", always_2d=True)
    soundfile.write(run / "mixes/1-matched.wav", samples * 10 ** (-6 / 20), rate_hz, subtype="FLOAT")
    (run.parent / "mix.wav").unlink()
    mix = next(one for one in gathered(run, (), (), pool).sounds if one.found.kind is Kind.MIX)
    assert np.allclose(soundfile.read(mix.file, always_2d=True)[0], samples, atol=1e-6)


def test_a_reference_that_changed_since_is_left_out_and_said(run, tmp_path, pool):
    run = heard_runs.copied(run, tmp_path)
    shutil.copy(run.parent / "mix.wav", run.parent / "old record.wav")
    found = gathered(run, (), (), pool)
    assert [one.found.kind for one in found.sounds][-1] is Kind.MIX
    assert any("old record.wav is left out" in words and "has changed" in words for words in found.warnings)


def test_more_variants_than_can_be_held_in_mind_are_left_out_and_said(run, pool, monkeypatch):
    monkeypatch.setattr("sweeper.audition.heard.MOST_UNNAMED", 2)
    found = gathered(run, (), (), pool)
    assert [one.found.id for one in found.sounds][:3] == ["002", "001", "mix-1"]
    assert found.warnings == ("not in the page: 003; name variants to hear others",)


def test_a_second_look_is_read_from_the_first(run, ready, pool):
    assert sorted(path.suffix for path in (run / "audition/looks").iterdir()) == [".json"] * 5
    assert [one.look for one in gathered(run, (), (), pool).sounds] == [one.look for one in ready.sounds]


def test_a_run_that_is_none_is_refused(tmp_path):
    with pytest.raises(RunFolderError, match="no run"):
        heard(Path(tmp_path))
