"""What each worker is handed: the variant's own settings, its own mix, and the whole of the reach."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from sweeper.audio import AudioFormat, SoundFile
from sweeper.chain import load_chain
from sweeper.plan.examine import Examined
from sweeper.plan.reach_terms import Direction
from sweeper.plan.variants import variants
from sweeper.quantities import Measurements
from sweeper.render.folder import RunFolder
from sweeper.render.job import GoalOrder, Job
from sweeper.render.jobs import jobs, reach_orders
from sweeper.render.orders import Measured

TEXT = """
mixes: [{file: a.wav, sections: {verse: "0:01-0:02"}}, {file: b.wav, sections: {verse: "0:01-0:02"}}]
album: each to target
inserts: [{name: one, plugin: "builtin:Gain"}]
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
vary: {one.gain db: [-3 dB, -6 dB]}
reach: [{loudness: -14 LUFS, within: 0.25 LU, by: limiter.drive, stop at: [crest >= 8 dB, overs <= 2]}]
"""
EXAMINED = Examined({("one", ""): "builtin:Gain", ("limiter", ""): "builtin:BrickwallLimiter"})
RATES_HZ = {"a.wav": 44100, "b.wav": 96000}


@pytest.fixture
def chain(tmp_path: Path):
    for name in RATES_HZ:
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT)
    return load_chain(tmp_path / "c.yaml")


@pytest.fixture
def found(chain, tmp_path: Path) -> tuple[Job, ...]:
    files = [SoundFile(m.file, AudioFormat(2, RATES_HZ[m.written]), 999999, "WAV", "FLOAT") for m in chain.mixes]
    mixes = [Measured(file, Measurements({}), "") for file in files]
    folder = RunFolder.create(tmp_path / "results", "test", datetime(2026, 11, 24))
    made = jobs(chain, variants(chain, EXAMINED), mixes, folder, datetime(2026, 11, 24, 18, 5, 9), 7.0, {}, {})
    assert list(made) == [job.variant for job in made.values()]
    return tuple(made.values())


def test_every_job_has_its_own_settings_mix_and_place(found, tmp_path):
    handed = [(job.variant, job.mix.path.name, job.stages[0].settings[0].value.text) for job in found]
    assert handed == [("001", "a.wav", "-3 dB"), ("002", "a.wav", "-6 dB"), ("003", "b.wav", "-3 dB"),
                      ("004", "b.wav", "-6 dB")]  # fmt: skip
    assert len({job.target for job in found}) == len({job.tag for job in found}) == 4
    assert {job.target.name for job in found} == {"render.wav"}
    assert {(job.date, job.time, job.patience_s) for job in found} == {("2026-11-24", "18:05:09", 7.0)}


def test_mixes_that_keep_their_relations_land_as_far_below_the_goal_as_below_the_loudest(chain, tmp_path):
    chain = replace(chain, keeps_relations=True)
    files = [SoundFile(m.file, AudioFormat(2, RATES_HZ[m.written]), 999999, "WAV", "FLOAT") for m in chain.mixes]
    mixes = [Measured(file, Measurements({"loudness_lufs": lufs}), "")
             for file, lufs in zip(files, (-21.5, -17.25), strict=True)]  # fmt: skip
    folder = RunFolder.create(tmp_path / "results", "test", datetime(2026, 11, 24))
    made = jobs(chain, variants(chain, EXAMINED), mixes, folder, datetime(2026, 11, 24), 7.0, {}, {})
    goals = {job.mix.path.name: [goal.goal for goal in job.reach[0].goals] for job in made.values()}
    assert goals == {"a.wav": [-18.25, 8.0, 2.0], "b.wav": [-14.0, 8.0, 2.0]}


def test_a_mix_with_goals_and_limits_of_its_own_is_handed_these(chain, tmp_path):
    own = TEXT.replace("{file: b.wav,", "{file: b.wav, reach: {loudness: -18 LUFS}, limits: [one.residue <= -50 dB],")
    (tmp_path / "own.yaml").write_text(own)
    chain = replace(load_chain(tmp_path / "own.yaml"), keeps_relations=True)
    files = [SoundFile(m.file, AudioFormat(2, RATES_HZ[m.written]), 999999, "WAV", "FLOAT") for m in chain.mixes]
    mixes = [Measured(file, Measurements({"loudness_lufs": lufs}), "")
             for file, lufs in zip(files, (-21.5, -17.25), strict=True)]  # fmt: skip
    folder = RunFolder.create(tmp_path / "results", "test", datetime(2026, 11, 24))
    made = jobs(chain, variants(chain, EXAMINED), mixes, folder, datetime(2026, 11, 24), 7.0, {}, {}).values()
    goals = {job.mix.path.name: [(goal.goal, goal.within) for goal in job.reach[0].goals] for job in made}
    stops = [(8.0, 0.1), (2.0, 1.0)]
    assert goals == {"a.wav": [(-14.0, 0.25), *stops], "b.wav": [(-18.0, 0.25), *stops]}
    assert {job.mix.path.name: [look.stage for look in job.looks] for job in made} == {"a.wav": [], "b.wav": [0]}


def test_sections_are_counted_at_the_rate_of_the_jobs_own_mix(found):
    assert [job.sections["verse"] for job in found[1:3]] == [((44100, 88200),), ((96000, 192000),)]


def test_a_reach_is_handed_on_whole_goal_tolerance_and_every_stop(found):
    (order,) = found[0].reach
    assert all(job.reach == (order,) for job in found)
    assert (order.stage, order.setting, order.direction) == (1, "input trim", Direction.RAISE)
    assert order.goals == (
        GoalOrder("loudness_lufs", -14.0, 1, 0.25, False, "loudness -14"),
        GoalOrder("crest_db", 8.0, -1, 0.1, True, "crest >= 8 dB"),
        GoalOrder("overs", 2.0, 1, 1.0, True, "overs <= 2"),
    )


def test_three_reaches_say_which_stage_each_looks_at(tmp_path):
    for name in RATES_HZ:
        (tmp_path / name).write_bytes(b"")
    three = TEXT[: TEXT.index("reach:")] + (
        "reach: [{limiter.attenuation: 3 dB, by: limiter.drive}, {loudness: -14 LUFS, by: one.output trim},\n"
        "        {true peak: at most -1 dBTP, by: limiter.ceiling db}]\n"
    )
    (tmp_path / "c.yaml").write_text(three)
    chain = load_chain(tmp_path / "c.yaml")
    orders = reach_orders(chain, variants(chain, EXAMINED)[0])
    assert [(order.stage, order.measured, order.direction) for order in orders] == [
        (1, 1, Direction.RAISE), (0, None, Direction.RAISE), (1, None, Direction.UNKNOWN),
    ]  # fmt: skip


def test_a_stage_that_is_solved_ends_where_it_was_not_rendered_twice(chain, tmp_path):
    files = [SoundFile(m.file, AudioFormat(2, RATES_HZ[m.written]), 999999, "WAV", "FLOAT") for m in chain.mixes]
    mixes = [Measured(file, Measurements({}), "") for file in files]
    folder = RunFolder.create(tmp_path / "results", "test", datetime(2026, 11, 24))
    first = variants(chain, EXAMINED)[:1]
    for floor, told in ((None, ("identical", "")), (-90.0, ("-90.0 dBFS", "-90.0 dBFS"))):
        floors = dict.fromkeys(first[0].stages, floor)
        (job,) = jobs(chain, first, mixes, folder, datetime(2026, 11, 24), 7.0, {}, floors).values()
        assert job.repeats == told
