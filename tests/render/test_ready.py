"""Everything known before a plan, and the plan: on built-in effects, with real workers and a real store."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from plugin_fixtures import done
from rendering import step_job
from whole_runs import chain_file, mix

from sweeper.chain import load_chain
from sweeper.errors import ChainFileError, PluginError
from sweeper.render.costs import FIGURES_NAME, Speeds
from sweeper.render.desk import Desk, Watcher
from sweeper.render.job import StoredStep
from sweeper.render.jobs import mix_file
from sweeper.render.ready import plan_of, prepared, speeds_of
from sweeper.render.store import Store
from sweeper.workers import Cause, Failed

CHAIN = """
mixes: [a.wav, b.wav]
album: each to target
references: [r.wav]
inserts:
  - {name: room, plugin: "builtin:Reverb"}
  - {name: gain, plugin: "builtin:Gain"}
vary: {gain.gain db: [-3 dB, -6 dB]}
"""


@pytest.fixture
def chain(tmp_path: Path):
    mix(tmp_path / "a.wav", 0.5), mix(tmp_path / "b.wav", 0.4, channels=1, seed=2), mix(tmp_path / "r.wav", 0.4, seed=3)
    return load_chain(chain_file(tmp_path, CHAIN))


@pytest.fixture
def desk(pool, tmp_path: Path):
    with Store(tmp_path / "store", 10**9) as store:
        yield Desk(pool, store, Watcher(lambda event: None), 2, 60.0)


def dear(ready, store_s: float = 0.001) -> Speeds:
    """Stages so slow that storing is always worth it."""
    stages = tuple({s: 5.0 for v in ready.found if v.mix == n for s in v.stages} for n in range(len(ready.mixes)))
    return Speeds(stages, (0.1, 0.1), (store_s, store_s))


def test_mixes_references_plugins_and_variants_are_all_there(chain, desk):
    ready = prepared(chain, desk)
    assert [m.file.path.name for m in ready.mixes] == ["a.wav", "b.wav"]
    assert [m.file.path.name for m in ready.references] == ["r.wav"]
    assert [(v.id, v.mix, dict(v.varied)) for v in ready.found] == [
        ("001", 0, {"gain.gain db": "-3 dB"}), ("002", 0, {"gain.gain db": "-6 dB"}),
        ("003", 1, {"gain.gain db": "-3 dB"}), ("004", 1, {"gain.gain db": "-6 dB"})]  # fmt: skip
    assert ready.facts.sources == tuple(m.audio_sha256 for m in ready.mixes)
    assert set(ready.facts.programs) == {"builtin:Reverb", "builtin:Gain"}
    assert ready.found[0].stages[1].settings[0].raw is not None, "looked up in the plugin"


def test_what_the_chain_file_has_wrong_is_told_with_its_line(desk, tmp_path):
    mix(tmp_path / "a.wav", 0.4)
    text = 'mix: a.wav\ninserts:\n  - {name: gain, plugin: "builtin:Gain", settings: {drive: 3 dB}}\n'
    with pytest.raises(ChainFileError) as told:
        prepared(load_chain(chain_file(tmp_path, text)), desk)
    assert [problem.line for problem in told.value.problems] == [3]


def test_the_plan_shares_the_first_stage_of_each_mix(chain, desk):
    ready = prepared(chain, desk)
    plan = plan_of(ready, ready.found, dear(ready), desk)
    assert plan.count.predicted == 6, "a room for each mix, and two gains behind it"
    assert plan.count.unshared == 8
    rest = plan_of(ready, ready.found[1:], dear(ready), desk)
    assert list(rest.variants) == list(rest.tree.paths) == ["002", "003", "004"]
    assert set(rest.teachers) == {"001", "002", "003", "004"}


def test_what_is_in_the_store_already_is_planned_with(chain, desk, pool):
    ready = prepared(chain, desk)
    first = ready.found[0]
    key = plan_of(ready, ready.found, dear(ready), desk).tree.paths["001"].steps[0]
    target = StoredStep(desk.store.folder, key, 1)
    done(pool, "sweeper.render.step_task:render_step", step_job(mix_file(ready.mixes[0]), target, first.stages[:1]))
    plan = plan_of(ready, ready.found, dear(ready), desk)
    assert plan.storing.there == {key}
    assert (plan.count.predicted, plan.count.found) == (5, 1)


def test_speeds_are_remembered_beside_the_store_and_nowhere_without_one(chain, desk, pool, tmp_path, monkeypatch):
    monkeypatch.setattr("sweeper.render.costs.NOISE_S", 0.2)
    monkeypatch.setattr("sweeper.render.costs.STORED_S", 0.2)
    ready = prepared(chain, desk)
    tried = speeds_of(ready, desk, strict=True)
    assert all(figure > 0 for own in tried.stages for figure in own.values())
    assert len(json.loads((tmp_path / "store" / FIGURES_NAME).read_text())) == 8, "two stages, pass and store, by width"
    with Store(tmp_path / "none", 0) as none:
        speeds_of(ready, Desk(pool, none, desk.watcher, 2, 60.0), strict=True)
    assert not (tmp_path / "none").exists()


def test_a_stage_that_fails_on_noise_stops_a_check_and_not_a_run(chain, desk):
    ready = prepared(chain, desk)

    class Crashing:
        def map_in_order(self, tasks):
            return [Failed(task.key, Cause.CRASHED, "crashed", "", "", (), None) for task in tasks]

    crashing = Desk(Crashing(), desk.store, desk.watcher, 2, 60.0)
    with pytest.raises(PluginError, match="'room' on noise: it crashed"):
        speeds_of(ready, crashing, strict=True)
    assert all(figure > 0 for figure in speeds_of(ready, crashing, strict=False).stages[0].values())
