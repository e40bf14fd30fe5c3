"""Whether stages repeat themselves, against plugins that are known to, or not to; and what is remembered of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from plugin_fixtures import packaged, stage
from trial_probes import trial_probe
from whole_runs import mix

from sweeper.audio import AudioFormat, SoundFile
from sweeper.plan.tree import Facts
from sweeper.plan.variants import Variant
from sweeper.quantities import Measurements
from sweeper.render import twice
from sweeper.render.orders import Measured
from sweeper.render.repeats import FLOORS_NAME, Repeated, floors_of, repeats
from sweeper.render.trial_orders import Repeats, Residual
from sweeper.workers import Pool

NOTHING = Residual(None, None)


def facts(*stages) -> Facts:
    return Facts(("a mix",), {setup.path: f"build of {setup.path}" for setup in stages}, {}, 1024, 1)


def variant(*stages, id: str = "001") -> Variant:
    return Variant(id, 0, {}, tuple(stages))


def tried(folder: Path, *stages, found=(), remembered: Path | None = None) -> Repeated:
    music = mix(folder / "mix.wav", 3.0)
    measured = Measured(SoundFile(music, AudioFormat(2, 44100), 132300, "WAV", "PCM_24"), Measurements({}), "")
    variants = found or [variant(*stages)]
    known = facts(*(setup for one in variants for setup in one.stages))
    return repeats(variants, [measured], known, remembered, 1024, 60.0, lambda: Pool(1))


def test_every_stage_is_judged_by_itself_on_its_own_input(tmp_path, probes):
    """The noise of the second is uniform within 0.001 (its constant), so two renders differ by at most 0.002."""
    stages = [stage(probes["gain"], name="steady"), stage(probes["noise_process"], name="noisy"),
              stage(trial_probe(tmp_path, "worn"), name="worn"), stage(probes["ageing"], name="ageing"),
              stage(packaged("ZamCompX2"), name="glue")]  # fmt: skip
    found = tried(tmp_path, *stages)
    told = {name: one for (name, _), one in found.stages.items()}
    assert told["steady"] == told["glue"] == Repeats(NOTHING, NOTHING)
    assert told["ageing"] == told["steady"], "a reset gives a new instance"
    assert told["steady"].verdict == "repeats"
    for residual in (told["noisy"].again, told["noisy"].fresh):
        assert -60 < residual.peak_dbfs < -53.9, "20 log10 0.002 = -53.98"
    assert told["noisy"].verdict.startswith("never repeats (floor -5")
    assert told["worn"].fresh == NOTHING
    assert told["worn"].verdict.startswith("repeats only in a fresh process")
    assert told["worn"].again.peak_dbfs > -40
    assert found.whole.fresh.peak_dbfs > -70, "the chain does not repeat while one of its stages does not"


def test_a_residual_is_told_against_full_scale_and_against_the_sound():
    """By hand: 0.1 of 0.5 is -13.98 dB, and -20 dBFS."""
    before = np.full((2, 100), 0.5, np.float32)
    found = twice.residual(before, before + np.float32(0.1))
    assert found.peak_dbfs == pytest.approx(-20, abs=1e-4)
    assert found.relative_db == pytest.approx(-13.979, abs=1e-3)
    assert twice.residual(before, before) == NOTHING
    assert twice.residual(0 * before, before).relative_db is None


def test_a_stage_that_differs_only_between_processes_is_told_so():
    floor = Residual(-80.0, -70.0)
    assert Repeats(NOTHING, floor).verdict == (
        "repeats only within one process (else within -80.0 dBFS, -70 dB against the sound)")  # fmt: skip
    assert (Repeats(NOTHING, floor).floor_dbfs, Repeats(floor, NOTHING).floor_dbfs) == (-80.0, None)


def test_the_loudest_stretch_is_what_is_rendered(tmp_path):
    sound = np.full((44100 * 8, 2), 0.01)
    sound[44100 * 3 : 44100 * 5] = 0.5
    soundfile.write(tmp_path / "a.wav", sound, 44100, subtype="FLOAT")
    file = SoundFile(tmp_path / "a.wav", AudioFormat(2, 44100), len(sound), "WAV", "FLOAT")
    assert np.array_equal(twice._loudest(file, 2.0), sound[44100 * 3 : 44100 * 5].T.astype(np.float32))
    assert twice._loudest(file, 60.0).shape == (2, 44100 * 8), "a short mix is rendered whole"
    sound[44100 * 7 :] = 0.6
    soundfile.write(tmp_path / "b.wav", sound[: 44100 * 7 + 9], 44100, subtype="FLOAT")
    file = SoundFile(tmp_path / "b.wav", AudioFormat(2, 44100), 44100 * 7 + 9, "WAV", "FLOAT")
    assert twice._loudest(file, 1.0).shape == (2, 44100), "nine loud frames at the end are no second"


def test_buses_are_fed_with_what_stands_before_them_and_added():
    """Sums by hand: 1 doubled is 2; the buses add 3 x 2 and 5 x 2; the output stage halves it."""
    factors = {"first": 2.0, "low": 3.0, "high": 5.0, "last": 0.5}
    setups = [replace(stage("a.vst3", name=name), bus=name if name in ("low", "high") else "") for name in factors]
    out = twice._through(setups, np.ones((2, 4)), lambda n, sound: sound * factors[setups[n].name])
    assert np.array_equal(out, np.full((2, 4), 0.5 * (2 + 6 + 10)))


def test_alternatives_are_tried_in_as_few_variants_as_have_them_all(tmp_path, probes):
    steady = stage(probes["gain"], name="first", Gain="-3 dB")
    one, other = (replace(stage(probes[name], name="choice"), label=name) for name in ("gain", "noise_process"))
    found = tried(tmp_path, found=[variant(steady, one), variant(replace(steady, settings=()), one, id="002"),
                                   variant(steady, other, id="003")])  # fmt: skip
    assert {key: value.verdict[:13] for key, value in found.stages.items()} == {
        ("first", ""): "repeats", ("choice", "gain"): "repeats",
        ("choice", "noise_process"): "never repeats"}  # fmt: skip
    assert found.whole.verdict == "repeats", "that of the first variant"


def test_floors_are_remembered_for_a_build_and_that_nothing_differs_for_its_settings(tmp_path, probes):
    noisy, steady = stage(probes["noise_process"], name="noisy"), stage(probes["gain"], name="steady")
    store = tmp_path / "store"
    store.mkdir()
    variants, known = [variant(noisy, steady)], facts(noisy, steady)
    assert floors_of(variants, known, store) == {}
    assert tried(tmp_path, found=variants, remembered=store).trouble == ""
    turned, louder = stage(probes["noise_process"], name="again", Amount="7"), stage(probes["gain"], Amount="7")
    told = floors_of([variant(turned, steady, louder)], known, store)
    assert told[steady] is None
    assert louder not in told, "nobody looked"
    assert -60 < told[turned] < -53.9
    newer = replace(known, programs={**known.programs, noisy.path: "a newer build"})
    assert floors_of([variant(turned, steady)], newer, store) == {steady: None}
    assert floors_of(variants, known, None) == {}


def found_twice(monkeypatch, *peaks: float | None) -> None:
    """In place of two workers: what each variant's first stage differs by from one process to the next."""
    left = iter(peaks)

    def tried_variant(found: Variant, *_: object) -> list[Repeats]:
        one = Repeats(NOTHING, Residual(next(left), None))
        return [one, *[Repeats(NOTHING, NOTHING)] * len(found.stages)]

    monkeypatch.setattr("sweeper.render.repeats._tried", tried_variant)


def test_the_worst_of_what_was_met_is_kept(tmp_path, monkeypatch):
    def settings(amount: str) -> Variant:
        return variant(stage("a.vst3", name="first", Amount=amount), stage("b.vst3", name=f"more {amount}"))

    one, two, three = settings("1"), settings("2"), settings("3")
    known = facts(*one.stages)
    found_twice(monkeypatch, None, -70.0, -80.0)
    told = tried(tmp_path, found=[one, two, three], remembered=tmp_path).stages
    assert told["first", ""].floor_dbfs == -70.0
    found_twice(monkeypatch, None)
    tried(tmp_path, found=[two], remembered=tmp_path)
    floors = floors_of([one, two, three, settings("4")], known, tmp_path)
    assert [floors[v.stages[0]] for v in (one, two, three, settings("4"))] == [None, -70.0, -80.0, -70.0]


def test_what_cannot_be_remembered_is_told(tmp_path, monkeypatch):
    found_twice(monkeypatch, None)
    gone = tmp_path / "gone"
    assert f"cannot write {gone / FLOORS_NAME}" in tried(tmp_path, stage("a.vst3"), remembered=gone).trouble


@pytest.mark.parametrize("content", ["", "[]", '{"a": "low"}'])
def test_floors_that_cannot_be_read_are_none(tmp_path, content):
    (tmp_path / FLOORS_NAME).write_text(content)
    setup = stage("a.vst3")
    assert floors_of([variant(setup)], facts(setup), tmp_path) == {}
