"""What a stage costs is tried once, remembered beside the store, and tried anew for another build."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from planning import FACTS, grid, setup

from sweeper.audio import AudioFormat, SoundFile
from sweeper.errors import PluginError, SettingError
from sweeper.plan.tree import tree
from sweeper.plan.variants import Variant
from sweeper.quantities import Measurements
from sweeper.render.costs import ASSUMED, FIGURES_NAME, also_of, costs, speeds
from sweeper.render.orders import Measured, TimeOrder
from sweeper.render.store import write_entry
from sweeper.workers import Cause, Done, Failed, Task

FASTEST = {"a": 0.5, "b": 0.25, "other": 0.125, "pass": 0.03, "store": 0.01}


class PlayedPool:
    """Answers with invented figures; `fails` names the stage that comes to nothing, and how."""

    def __init__(self, fails: dict[str, Failed] | None = None) -> None:
        self.fails = fails or {}
        self.tried: list[tuple[str, AudioFormat]] = []

    def map_in_order(self, tasks: Iterable[Task]) -> list[Done | Failed]:
        return [self._done(task) for task in tasks]

    def _done(self, task: Task) -> Done | Failed:
        order = task.argument
        if not isinstance(order, TimeOrder):
            name = "store"
        else:
            name = Path(order.stages[0].path).stem if order.stages else "pass"
        self.tried.append((name, order.format))
        return self.fails.get(name) or Done(task.key, FASTEST[name])

    @property
    def names(self) -> list[str]:
        return [name for name, _ in self.tried]


def mix(seconds: float = 10.0, rate_hz: int = 44100, channels: int = 2) -> Measured:
    file = SoundFile(Path("a.wav"), AudioFormat(channels, rate_hz), round(seconds * rate_hz), "WAV", "FLOAT")
    return Measured(file, Measurements({}), "")


def tried(pool: PlayedPool, folder: Path | None, found=None, mixes=None, facts=FACTS, strict: bool = False):
    return speeds(found or grid([2, 2]), mixes or [mix()], facts, folder, pool, 1024, 60.0, strict)


def failed(error: Exception | None = None) -> dict[str, Failed]:
    return {"b": Failed("b", Cause.ERROR if error else Cause.CRASHED, "crashed with a segmentation fault", "", "", (),
                        error)}  # fmt: skip


def by_name(found: dict) -> dict[str, float]:
    return {Path(stage.path).stem: figure for stage, figure in found.items()}


def test_a_plugin_is_tried_once_in_whatever_settings_and_every_setting_has_its_figure(tmp_path):
    pool = PlayedPool()
    found = tried(pool, tmp_path)
    assert sorted(pool.names) == ["a", "b", "pass", "store"]
    assert set(found.stages[0]) == {stage for variant in grid([2, 2]) for stage in variant.stages}
    assert by_name(found.stages[0]) == {"a": 0.5, "b": 0.25}
    assert (found.pass_s, found.store_s) == ((0.03,), (0.01,))


def test_the_next_run_asks_nothing(tmp_path):
    first = tried(PlayedPool(), tmp_path)
    pool = PlayedPool()
    assert tried(pool, tmp_path) == first
    assert pool.tried == []


def test_another_build_state_rate_or_width_is_tried_by_itself(tmp_path):
    tried(PlayedPool(), tmp_path)

    def anew(**how) -> list[str]:
        pool = PlayedPool()
        tried(pool, tmp_path, **how)
        return sorted(pool.names)

    assert anew(facts=replace(FACTS, programs={**FACTS.programs, "b.vst3": "a newer build"})) == ["b"]
    assert anew(mixes=[mix(rate_hz=96000)]) == ["a", "b", "pass", "store"]
    assert anew(mixes=[mix(channels=1)]) == ["a", "b", "pass", "store"]
    with_state = [Variant("001", 0, {}, (setup("a", state=Path("other.vstpreset")),))]
    assert anew(found=with_state) == ["a"]


def test_each_mix_has_its_own_stages_and_what_is_bypassed_costs_nothing(tmp_path):
    silent = replace(setup("b"), bypass=True)
    found = [Variant("001", 0, {}, (setup("a"), silent)), Variant("002", 1, {}, (setup("other"),))]
    pool = PlayedPool()
    made = tried(pool, tmp_path, found, [mix(), mix(rate_hz=96000)])
    assert [by_name(own) for own in made.stages] == [{"a": 0.5}, {"other": 0.125}]
    assert sorted((name, format.rate_hz) for name, format in pool.tried if name not in ("pass", "store")) == [
        ("a", 44100), ("other", 96000)]  # fmt: skip


def test_without_a_store_nothing_is_remembered_and_storing_is_not_tried(tmp_path):
    for _ in range(2):
        pool = PlayedPool()
        assert tried(pool, None).store_s == (0.0,)
        assert sorted(pool.names) == ["a", "b", "pass"]


@pytest.mark.parametrize("content", ["", "no json", "[]", '{"a": "fast"}', '{"a": null}'])
def test_figures_that_cannot_be_read_are_tried_again(tmp_path, content):
    (tmp_path / FIGURES_NAME).write_text(content)
    pool = PlayedPool()
    tried(pool, tmp_path)
    assert sorted(pool.names) == ["a", "b", "pass", "store"]
    assert sorted(json.loads((tmp_path / FIGURES_NAME).read_text()).values()) == [0.01, 0.03, 0.25, 0.5]


def test_before_a_run_a_stage_that_fails_is_assumed_and_tried_again_next_time(tmp_path):
    assert by_name(tried(PlayedPool(failed()), tmp_path).stages[0]) == {"a": 0.5, "b": ASSUMED}
    pool = PlayedPool()
    assert by_name(tried(pool, tmp_path).stages[0]) == {"a": 0.5, "b": 0.25}
    assert pool.names == ["b"]


def test_in_a_check_it_is_an_error_that_names_the_stage(tmp_path):
    with pytest.raises(PluginError, match="'b' on noise: it crashed with a segmentation fault"):
        tried(PlayedPool(failed()), tmp_path, strict=True)
    own = SettingError("'Drive' did not stick")
    with pytest.raises(SettingError) as told:
        tried(PlayedPool(failed(own)), tmp_path, strict=True)
    assert told.value is own


def test_a_steps_cost_is_its_stages_over_its_own_mix(tmp_path):
    found = [Variant("001", 0, {}, (setup("a"), setup("b"))), Variant("002", 1, {}, (setup("a"),))]
    facts = replace(FACTS, sources=("one", "two"))
    mixes = [mix(10.0), mix(100.0, 48000, 1)]
    made = tried(PlayedPool(), tmp_path, found, mixes, facts)
    grown = tree(found, facts)
    dear = costs(grown, mixes, made)
    told = {(step.mix, step.setups[0].name): dear.step_s[key] for key, step in grown.steps.items()}
    assert told == {(0, "a"): pytest.approx(5.0), (0, "b"): pytest.approx(2.5), (1, "a"): pytest.approx(50.0)}
    assert dear.store_s == {0: pytest.approx(0.1), 1: pytest.approx(1.0)}


def test_a_stored_step_takes_no_more_than_was_reckoned(tmp_path):
    music = mix(0.5)
    dear = costs(tree([], FACTS), [music], tried(PlayedPool(), None))
    with write_entry(tmp_path, "ab" * 32, music.file.format) as entry:
        entry.write(np.zeros((2, music.file.frames), np.float32))
        entry.commit((), (), 0.0)
    took = sum(path.stat().st_size for path in tmp_path.rglob("*") if path.is_file())
    assert took <= dear.size_bytes[0] <= took + 300_000


def test_other_settings_of_a_stage_that_was_tried_are_as_fast(tmp_path):
    known = tried(PlayedPool(), tmp_path, grid([1, 1]))
    others = grid([3, 1])
    for setup_ in {stage for v in others for stage in v.stages}:
        assert also_of(known, others).stages[0][setup_] == FASTEST[setup_.name]
    assert also_of(known, [replace(others[0], mix=1)]).stages == known.stages
    stranger = replace(others[0], stages=(setup("other", 0.1),))
    assert also_of(known, [stranger]).stages == known.stages
