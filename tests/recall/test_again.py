"""A master made again: identical on real plugins, and when something has changed, by how much. Debian's zam-plugins."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from plugin_builder import build
from plugin_fixtures import done, packaged, stage
from recall_sheets import rendered
from rendering import key_of, step_job
from whole_runs import samples

from sweeper.audio import audio_hash, inspect
from sweeper.chain import Channels
from sweeper.errors import AudioFileError, PluginError, PluginMissing
from sweeper.recall.again import again
from sweeper.recall.asked import Asked
from sweeper.recall.find import find
from sweeper.recall.stagewise import first_other
from sweeper.recall.tasks import one_task
from sweeper.recall.verdict import Verdict
from sweeper.records import Source
from sweeper.render.job import MixFile, StoredStep, stamp_of


def recalled(sheet: Path, **asked):
    results = sheet.parents[3]
    return again(find(sheet, results), Asked(results, **asked))


def edited(sheet: Path, change) -> Path:
    data = json.loads(sheet.read_text())
    change(data)
    sheet.write_text(json.dumps(data))
    return sheet


CHAINS = {
    "mid/side with trims": lambda: (
        replace(stage(packaged("ZamEQ2"), "mid/side", "eq", **{"Boost/Cut_1": "2.2 dB"}), output_trim_db=-0.35),
        replace(stage(packaged("ZaMaximX2"), name="limiter", Threshold="-7.0961 dB"), input_trim_db=1 / 3),
    ),
    "one side, steps and choices": lambda: (
        stage(packaged("ZamTube"), "side", "tube", Tube_Drive="3", Insane_Boost="1"),
        stage("builtin:BrickwallLimiter", name="limiter", release_ms="37.123456 ms", ceiling_db="-0.7 dB"),
    ),
    "left/right and a bypassed stage": lambda: (
        stage(packaged("ZamComp"), "left/right", "glue", Threshold="-23.4 dB", Ratio="2.5"),
        replace(stage(packaged("ZamEQ2"), "left/right", "eq"), bypass=True),
        stage("builtin:HighpassFilter", name="low cut", cutoff_frequency_hz="23.456789 Hz"),
    ),
    "controls left alone": lambda: (stage(packaged("ZaMultiCompX2"), name="bands"), stage("builtin:Compressor")),
}


@pytest.mark.parametrize("chain", CHAINS)
def test_it_comes_out_as_it_was_to_the_bit(pool, tmp_path, chain):
    made = recalled(rendered(pool, tmp_path, *CHAINS[chain]()))
    assert made.identical
    assert made.null is not None and made.null.identical
    assert made.now.audio_sha256 == made.then.audio_sha256
    assert (made.differences, made.notes, made.now.passes) == ((), (), 1)
    assert [s.settings for s in made.now.stages] == [s.settings for s in made.then.stages]
    assert made.now.reach == made.then.reach
    assert made.now.id != made.then.id


def test_two_controls_of_one_name_come_out_as_they_were(pool, tmp_path, probes):
    twins = stage(probes["twin_names"], **{"Band_(1)": "3.3 dB", "Band_(2)": "-7.7 dB"})
    assert recalled(rendered(pool, tmp_path, twins)).identical


def test_a_control_that_moves_by_itself_is_left_to_move(pool, tmp_path, probes):
    sheet = rendered(pool, tmp_path, stage(probes["wandering"]), stage(probes["gain"]))
    assert recalled(sheet).identical


def test_a_recall_can_be_recalled(pool, tmp_path):
    first = recalled(rendered(pool, tmp_path, stage("builtin:Gain", gain_db="-3.21 dB")))
    second = recalled(first.folder / "variants" / "004" / "recall.json")
    assert second.identical
    assert second.old == first.render.absolute()
    assert second.folder != first.folder
    assert (first.now.parent, second.now.parent) == (first.then.id, first.now.id)


def test_the_sheet_of_a_version_that_measured_less_is_recalled(pool, tmp_path):
    def measured_then(data):
        data["measurements"] = {key: data["measurements"][key] for key in ("loudness_lufs", "true_peak_dbtp", "overs")}

    sheet = edited(rendered(pool, tmp_path, stage("builtin:Gain", gain_db="-3.21 dB")), measured_then)
    made = recalled(sheet)
    assert made.identical
    assert set(made.then.measurements) == {"loudness_lufs", "true_peak_dbtp", "overs"}
    assert {"psr_db", "tilt_db", "over_runs"} <= set(made.now.measurements)


def test_a_changed_plugin_is_named_and_the_difference_measured(pool, tmp_path):
    """Two gains of one input: what is left is the input times their difference, by arithmetic."""
    build("gain", tmp_path, title="Drawn Gain", GAIN_DB=-6.0)
    sheet = rendered(pool, tmp_path, stage(tmp_path / "Drawn Gain.vst3", name="g"))
    shutil.rmtree(tmp_path / "Drawn Gain.vst3")
    build("gain", tmp_path, title="Drawn Gain", GAIN_DB=-6.1)
    made = recalled(sheet)
    source = samples(tmp_path / "mix.wav").astype(np.float64)
    left = source * (10 ** (-6.1 / 20) - 10 ** (-6.0 / 20))
    assert not made.identical
    assert made.null.peak_dbfs == pytest.approx(20 * np.log10(np.abs(left).max()), abs=1e-3)
    assert made.null.rms_dbfs == pytest.approx(10 * np.log10((left**2).mean()), abs=1e-3)
    assert np.abs(left[made.null.channel, made.null.frame]) == np.abs(left).max()
    assert [d.what for d in made.differences] == ["'g' (Drawn Gain): program (SHA-256)"]
    assert made.render.is_file()
    answer = json.loads((made.folder / "null-test.json").read_text())
    assert (answer["identical"], answer["null"]["peak_dbfs"]) == (False, made.null.peak_dbfs)


def as_if_nobody_had_set(*names):
    """The sheet of a plugin whose own values have changed since: nobody set the controls, and they stood elsewhere."""
    def change(data):
        for one in data["stages"]:
            one["standing"] += [applied for applied in one["settings"] if applied["name"] in names]
            one["settings"] = [applied for applied in one["settings"] if applied["name"] not in names]
    return change  # fmt: skip


def test_controls_that_stand_elsewhere_now_are_put_back(pool, tmp_path):
    limiter = stage(packaged("ZaMaximX2"), Threshold="-18 dB", Release="3 ms")
    sheet = rendered(pool, tmp_path, limiter, stage("builtin:Gain", gain_db="-3 dB"))
    made = recalled(edited(sheet, as_if_nobody_had_set("Release", "Threshold", "gain db")))
    assert made.identical
    assert {a.name for s in made.now.stages for a in s.settings} == {"Release", "Threshold", "gain db"}


def test_a_control_that_cannot_be_put_back_is_said(pool, tmp_path):
    def change(data):
        data["audio_sha256"] = "0" * 64
        (meter,) = (one for one in data["stages"][0]["standing"] if one["name"] == "Output Level")
        meter.update(raw=0.7, text="-13.5")

    made = recalled(edited(rendered(pool, tmp_path, stage(packaged("ZaMaximX2"), name="limiter")), change))
    assert not made.identical
    assert any("'limiter': 'Output Level' stood at -13.5 and cannot be put back" in note for note in made.notes)
    assert any("no longer holds what its sheet says" in note for note in made.notes)


def test_a_control_that_stands_elsewhere_and_changes_nothing_is_not_spoken_of(pool, tmp_path):
    def change(data):
        data["stages"][0]["standing"][-1].update(raw=0.7, text="-13.5")

    made = recalled(edited(rendered(pool, tmp_path, stage(packaged("ZaMaximX2"))), change))
    assert (made.identical, made.notes, made.differences) == (True, (), ())


@pytest.fixture
def with_state(pool, tmp_path):
    """A rendered limiter set by a state file alone; (its sheet, the state)."""
    state = tmp_path / "limiter.vstpreset"
    done(pool, "hosting_tasks:saved_state", (stage(packaged("ZaMaximX2"), Threshold="-18 dB", Release="3 ms"), state))
    return rendered(pool, tmp_path, replace(stage(packaged("ZaMaximX2"), name="limiter"), state=state)), state


def test_a_state_that_changed_is_taken_from_the_copy_of_the_run(pool, with_state):
    sheet, state = with_state
    done(pool, "hosting_tasks:saved_state", (stage(packaged("ZaMaximX2"), Threshold="-3 dB"), state))
    made = recalled(sheet)
    assert made.identical
    (note,) = made.notes
    assert "the copy that the run kept is used" in note
    assert len(list((made.folder / "states").iterdir())) == 1, "so that this recall can be recalled"


def test_a_state_that_is_lost_is_set_control_by_control(with_state):
    sheet, state = with_state
    state.unlink()
    shutil.rmtree(sheet.parents[2] / "states")
    made = recalled(sheet)
    assert made.identical
    assert "is nowhere to be found" in made.notes[0]
    assert [d.what for d in made.differences] == ["'limiter' (ZaMaximX2): state file (SHA-256)"]


def test_without_the_old_file_the_hash_decides(pool, tmp_path):
    sheet = rendered(pool, tmp_path, stage("builtin:Gain", gain_db="-3 dB"))
    (sheet.parent / "render.wav").unlink()
    made = recalled(sheet)
    assert (made.identical, made.old, made.null) == (True, None, None)
    made = recalled(edited(sheet, lambda data: data["stages"][0].update(output_trim_db=-0.1)))
    assert (made.identical, made.old, made.null) == (False, None, None)


def test_a_mix_that_moved_is_taken_where_it_is_named(pool, tmp_path):
    sheet = rendered(pool, tmp_path, stage("builtin:Gain"))
    elsewhere = (tmp_path / "mix.wav").rename(tmp_path / "the mix.wav")
    with pytest.raises(AudioFileError, match=r"not at .*mix\.wav any more") as caught:
        recalled(sheet)
    assert "--mix" in caught.value.remedy
    made = recalled(sheet, mix=elsewhere)
    assert made.identical
    assert [d.what for d in made.differences] == ["the mix's file (the music is the same)"]


@pytest.mark.parametrize(
    ("seconds", "rate_hz", "words"),
    [(1.0, 44100, "0:01.0 (44100 frames), 44100 Hz, stereo both, the samples differ"),
     (0.5, 44100, "(44100 frames), 44100 Hz, stereo then, 0:00.5 (22050 frames), 44100 Hz, stereo now"),
     (1.0, 48000, "(48000 frames), 48000 Hz, stereo now")],
)  # fmt: skip
def test_other_music_is_refused_and_nothing_is_rendered(pool, tmp_path, seconds, rate_hz, words):
    from whole_runs import mix

    sheet = rendered(pool, tmp_path, stage("builtin:Gain"))
    other = mix(tmp_path / "other.wav", seconds, rate_hz, seed=2)
    runs = sorted((tmp_path / "results").iterdir())
    with pytest.raises(AudioFileError, match="is not the music") as caught:
        recalled(sheet, mix=other)
    assert words in caught.value.what
    assert sorted((tmp_path / "results").iterdir()) == runs


def test_a_plugin_that_is_gone_ends_it_before_anything_is_made(pool, tmp_path):
    sheet = rendered(pool, tmp_path, stage("builtin:Gain"))
    gone = edited(sheet, lambda data: data["stages"][0].update(path="/gone/Nosuch Limiter.vst3"))
    with pytest.raises(PluginMissing, match="stage 'stage': no plugin is called 'Nosuch Limiter'"):
        recalled(gone)


def test_a_plugin_that_crashes_now_is_said_and_leaves_no_half_file(pool, tmp_path, probes):
    sheet = rendered(pool, tmp_path, stage("builtin:Gain"))
    deadly = str(probes["segfault_process"])
    with pytest.raises(PluginError, match="variant 004 crashed with a segmentation fault"):
        recalled(edited(sheet, lambda data: data["stages"][0].update(path=deadly, settings=[])))
    assert list((tmp_path / "results").glob("*recall*/variants/004/.*")) == []


def test_one_task_raises_what_the_worker_raised(pool):
    with pytest.raises(PluginError, match="nowhere"):
        one_task(pool, "hosting_tasks:applied", replace(stage("/nowhere.vst3"), channels=Channels.STEREO), "here")


ONE_BIT_DB = 5e-7  # moves a 32-bit float by its last bit or not at all: 2^-24 is 5.2e-7 dB


def with_another_gain(folder: Path, gain_db: float, **more) -> None:
    shutil.rmtree(folder / "Drawn Gain.vst3", ignore_errors=True)
    build("gain", folder, title="Drawn Gain", GAIN_DB=gain_db, **more)


def test_one_bit_in_one_stage_is_found_and_the_stage_named(pool, tmp_path, monkeypatch):
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "emptied"))
    with_another_gain(tmp_path, -6.0)
    stages = (stage("builtin:HighpassFilter", name="low cut"), stage(tmp_path / "Drawn Gain.vst3", name="g"),
              stage("builtin:Gain", name="out", gain_db="-1 dB"))  # fmt: skip
    sheet = rendered(pool, tmp_path, *stages)
    with_another_gain(tmp_path, -6.0 - ONE_BIT_DB)
    told = []
    made = recalled(sheet, told=told.append)
    then, now = samples(made.old), samples(made.render)
    steps = np.abs(then.view(np.int32).astype(np.int64) - now.view(np.int32))
    assert 0 < steps.max() <= 2, "it is about the last bit of a 32-bit float"
    assert made.verdict is Verdict.DIFFERS
    assert [(b.name, b.same) for b in made.stages] == [
        ("'low cut' (HighpassFilter)", True), ("'g' (Drawn Gain)", False), ("'out' (Gain)", False)]  # fmt: skip
    assert first_other(made.stages) == (made.stages[1], True)
    assert made.floor.peak_dbfs is None, "it is no matter of chance"
    assert made.stages[2].null == made.null, "the old render is there: it is what the last stage gave then"
    assert made.null.first_s == np.flatnonzero(steps.max(axis=0))[0] / 44100
    assert [d.what for d in told[0].changed] == ["'g' (Drawn Gain): program (SHA-256)"], "told before it is rendered"


@pytest.mark.long
def test_what_the_store_still_holds_of_a_stage_is_nulled_against(pool, tmp_path, monkeypatch):
    """The old step is a render of the old plugin: what is left behind the stage is known without the old file."""
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "store"))
    with_another_gain(tmp_path, -6.0)
    chain = (stage(tmp_path / "Drawn Gain.vst3", name="g"), stage("builtin:Limiter", name="limiter"))
    sheet = rendered(pool, tmp_path, *chain)
    target = StoredStep(tmp_path / "store", key_of("then"), 1)
    mix = inspect(tmp_path / "mix.wav")
    source = Source(str(mix.path), audio_hash(mix), 2, 44100, mix.frames)
    done(pool, "sweeper.render.step_task:render_step",
         step_job(MixFile(source, stamp_of(mix.path)), target, chain[:1], None))  # fmt: skip
    with_another_gain(tmp_path, -6.1)
    (sheet.parent / "render.wav").unlink()
    made = recalled(sheet)
    left = samples(mix.path).astype(np.float64) * (10 ** (-6.1 / 20) - 10 ** (-6.0 / 20))
    assert made.null is None
    assert made.stages[0].null.peak_dbfs == pytest.approx(20 * np.log10(np.abs(left).max()), abs=1e-3)
    assert made.stages[1].null is None


@pytest.mark.long
def test_a_plugin_that_never_repeats_comes_back_as_close_as_it_repeats(pool, tmp_path, probes):
    """Its noise is uniform within 1e-3: two renders differ by less than twice that, -54 dBFS, by arithmetic."""
    before, after = stage("builtin:Gain", name="in"), stage("builtin:Gain", name="out")
    made = recalled(rendered(pool, tmp_path, before, stage(probes["noise_process"], name="tape"), after))
    assert made.verdict is Verdict.AS_CLOSE_AS_IT_REPEATS
    assert made.floor.stage.startswith("'tape'")
    assert -66 < made.floor.peak_dbfs < 20 * np.log10(2e-3)
    assert first_other(made.stages)[0].name.startswith("'tape'")
    assert made.since.changed == ()


@pytest.mark.long
def test_the_sheet_of_a_version_without_marks_says_that_the_stage_is_not_known(pool, tmp_path):
    def unmarked(data):
        for one in data["stages"]:
            del one["gave"]
        data["stages"][0]["output_trim_db"] = -0.1

    made = recalled(edited(rendered(pool, tmp_path, stage("builtin:Gain", gain_db="-3 dB")), unmarked))
    assert [b.same for b in made.stages] == [None], "and no stage is blamed"
    assert first_other(made.stages) == (None, False)
    assert made.verdict is Verdict.DIFFERS
    assert made.null.peak_dbfs is not None
