"""What a run is said to take, against sums by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.audio import AudioFormat, SoundFile
from sweeper.chain import load_chain
from sweeper.host.described import Plugin
from sweeper.plan.examined import Examined
from sweeper.plan.method import Method, Way
from sweeper.plan.planned import planned
from sweeper.plan.tree import Facts, tree
from sweeper.plan.variants import variants
from sweeper.quantities import Measurements
from sweeper.render.costs import Speeds, costs
from sweeper.render.disk import Need
from sweeper.render.orders import Measured
from sweeper.table.forecast import checked

SWEEP = """
mix: a.wav
inserts: [{name: room, plugin: "builtin:Reverb"}, {name: gain, plugin: "builtin:Gain", channels: mid/side}]
output: {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, bypass: true}
vary: {gain.gain db: [-3 dB, -6 dB]}
"""
SOLVING = SWEEP.replace(", bypass: true", "") + "reach: [{loudness: -14 LUFS, by: limiter.drive}]\n"
SPEEDS = {"builtin:Reverb": 0.5, "builtin:Gain": 0.1, "builtin:BrickwallLimiter": 0.2}
PASS_S, STORE_S = 0.05, 0.02


def plugin(name: str, latency_frames: int = 0) -> Plugin:
    return Plugin(name, f"builtin:{name}", "", "1.0", "", "", 2, latency_frames, (), (), "")


EXAMINED = Examined(
    {("room", ""): "builtin:Reverb", ("gain", ""): "builtin:Gain", ("limiter", ""): "builtin:BrickwallLimiter"},
    {("room", ""): plugin("Reverb"), ("gain", ""): plugin("Gain"), ("limiter", ""): plugin("BrickwallLimiter", 480)},
)  # fmt: skip


@pytest.fixture
def foreseen(tmp_path: Path):
    """What is said of a chain file's text with so many workers; there: stages whose steps are stored already."""
    (tmp_path / "a.wav").write_bytes(b"")

    def made(text: str, workers: int = 1, there: tuple[str, ...] = (), limit: int = 10**12, examined=EXAMINED,
             method=None, seconds: int = 10):
        (tmp_path / "c.yaml").write_text(text)
        chain = load_chain(tmp_path / "c.yaml")
        found = variants(chain, examined)
        facts = Facts(("a mix",), {path: path for path in SPEEDS}, {}, 1024, 1)
        file = SoundFile(Path("a.wav"), AudioFormat(2, 44100), 44100 * seconds, "WAV", "FLOAT")
        mixes = [Measured(file, Measurements({}), "")]
        tried = Speeds(({s: SPEEDS[s.path] for v in found for s in v.stages},), (PASS_S,), (STORE_S,))
        grown = tree(found, facts)
        named = {key: {setup.name for setup in step.setups} for key, step in grown.steps.items()}
        stored = frozenset(key for key, names in named.items() if names & set(there))
        plan = planned(found, found, grown, costs(grown, mixes, tried), stored, limit, workers)
        return checked(chain, examined, plan, mixes, tried, Need(3_000_000, 2_000_000), ("mind this",), workers,
                       method=method)  # fmt: skip

    return made


def times_s(told) -> tuple[float, float]:
    return told.data["estimated_s_median"], told.data["estimated_s_worst"]


def test_a_sweep_is_its_shared_step_once_and_each_variant_behind_it(foreseen):
    """By hand: (0.5 + 0.02) x 10 s for the room and storing it, (0.1 + 0.05) x 10 s for each gain and its meters."""
    told = foreseen(SWEEP)
    assert times_s(told) == (8.2, 8.2)
    assert {key: told.data[key] for key in ("variants", "steps", "steps_unshared", "passes_median")} == {
        "variants": 2, "steps": 3, "steps_unshared": 4, "passes_median": 2}  # fmt: skip
    assert [stage["name"] for stage in told.data["stages"]] == ["room", "gain", "limiter"]
    assert told.data["steps_median"] == told.data["steps_worst"] == 3


def test_looking_inside_takes_its_time_too(foreseen):
    """10 s of passage: room and gain on the way, the gain twice more; for the best, every stage and the whole."""
    plain = times_s(foreseen(SWEEP))[0]
    assert times_s(foreseen(SWEEP + "limits: [gain.residue <= -40 dB]\n"))[0] == plain + 2 * 10 * (0.5 + 3 * 0.1)
    assert times_s(foreseen(SWEEP + "limits: [gain.distortion <= 1 %]\n"))[0] == plain + 2 * 10 * (0.5 + 0.1)
    assert times_s(foreseen(SWEEP + "prefer: [crest highest]\n"))[0] == plain + 2 * 10 * 5 * (0.5 + 0.1)


def test_two_workers_wait_for_the_step_and_then_share_the_variants(foreseen):
    assert times_s(foreseen(SWEEP, workers=2)) == (6.7, 6.7)


def test_what_is_stored_already_costs_nothing(foreseen):
    told = foreseen(SWEEP, there=("room",))
    assert times_s(told) == (3.0, 3.0)
    assert (told.data["steps"], told.data["steps_in_store"]) == (2, 1)
    assert "1 more are in the store" in told.estimate[0]


def test_without_room_to_store_every_variant_is_rendered_whole(foreseen):
    """(0.5 + 0.1 + 0.05) x 10 s, twice."""
    told = foreseen(SWEEP, limit=0)
    assert times_s(told) == (13.0, 13.0)
    assert told.data["steps_median"] == told.data["steps_unshared"] == 4


def test_a_reach_takes_three_passes_and_two_when_it_is_taught_and_at_worst_one_more_than_it_may(foreseen):
    """By hand: 5.2 s for the room; gains (0.1 + 0.02) x 10 s stored, each used by passes of (0.2 + 0.05) x 10 s."""
    told = foreseen(SOLVING)
    assert (told.data["passes_median"], told.data["passes_worst"]) == (5, 34)
    assert times_s(told) == (pytest.approx(5.2 + 2 * 1.2 + 5 * 2.5, abs=0.06),
                             pytest.approx(5.2 + 2 * 1.2 + 34 * 2.5, abs=0.06))  # fmt: skip
    assert told.data["steps"] is None, "nobody knows before"
    assert told.data["steps_unshared"] == 3 * 5, "three stages, five passes"


def test_excerpts_spare_each_variant_a_pass_and_cost_three_tenths_of_one_or_six_with_two_settings(foreseen):
    """By hand, as above, of a mix that is ten times as long: 3 passes, and 0.3 of one for each of two variants."""
    told = foreseen(SOLVING, seconds=100)
    assert told.data["passes_median"] == 3
    assert times_s(told)[0] == pytest.approx(10 * (5.2 + 2 * 1.2 + 3.6 * 2.5), abs=0.06)
    two = SOLVING.replace("drive}]", "drive}, {true peak: at most -1 dBTP, by: limiter.ceiling db}]")
    assert times_s(foreseen(two, seconds=100))[0] == pytest.approx(10 * (5.2 + 2 * 1.2 + 4.2 * 2.5), abs=0.06)
    unforetold = SOLVING.replace("reach: [{loudness: -14 LUFS", "reach: [{loudness range: 6 LU")
    assert foreseen(unforetold, seconds=100).data["passes_median"] == 5


def test_the_sum_is_told_in_words(foreseen):
    told = foreseen(SWEEP)
    assert told.estimate == ("2 variants: 3 steps (4 if nothing were shared)",
                             "about 0:08.2 with 1 worker; on disk 3 MB, and 2 MB for steps")  # fmt: skip
    solving = foreseen(SOLVING).estimate
    assert solving[0].startswith("2 variants: about 5 passes (at worst 34) and ")
    assert ", at worst 1:" in solving[1]
    assert told.data["disk_bytes"] == 5_000_000
    assert (told.warnings, told.data["warnings"]) == (("mind this",), ["mind this"])


def test_every_stage_is_told_with_what_is_unusual_of_it(foreseen):
    assert foreseen(SWEEP).stages == (
        "room: Reverb 1.0", "gain: Gain 1.0 (mid/side)",
        "limiter: BrickwallLimiter 1.0 (bypassed, delay 480 frames, taken out)")  # fmt: skip


def test_alternatives_are_told_each_by_its_label(foreseen):
    text = """
mix: a.wav
inserts: [{name: room, any of: [{plugin: "builtin:Reverb", name: Hall}, {plugin: "builtin:Gain"}]}]
"""
    examined = Examined({("room", "Hall"): "builtin:Reverb", ("room", "Gain"): "builtin:Gain"},
                        {("room", "Hall"): plugin("Reverb"), ("room", "Gain"): plugin("Gain")})  # fmt: skip
    assert foreseen(text, examined=examined).stages == ("room: Reverb 1.0 (as Hall)", "room: Gain 1.0")


def test_of_an_exploration_the_most_is_told_and_how_it_chooses(foreseen):
    told = foreseen(SWEEP, method=Method(Way.TPE, "one preference"))
    assert told.estimate[0].startswith("at most 2 variants: ")
    assert told.estimate[-1] == "explored by TPE: one preference"
    assert told.data["explore"] == {"method": "TPE", "why": "one preference"}
    assert "explore" not in foreseen(SWEEP).data
