"""What trials showed, in words and as data, from results made up."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.host.described import Plugin
from sweeper.host.finding import Finding
from sweeper.plan.examined import Examined
from sweeper.render.repeats import Repeated
from sweeper.render.trial_orders import Repeats, Residual, Tried
from sweeper.table.trial_words import Shown, stage_words, stages_data, trial_warnings

NOTHING = Residual(None, None)
STEADY = Repeats(NOTHING, NOTHING)
NOISY = Repeats(Residual(-60.04, -40.0), Residual(-54.02, -37.96))
DRY = Finding("dry", "changed nothing: its output is its input")
BURSTS = Finding("bursts", "put out a burst that its input does not explain, at 0:03.0", (2.996,))
KEY = ("glue", "")


def plugin(latency_frames: int = 0) -> Plugin:
    return Plugin("My Comp", "my.vst3", "", "1.0", "", "", 2, latency_frames, (), (), "")


def tried(reported: int = 0, late: float | None = 0.0, taken_out: int | None = None, inverted: bool = False,
          findings: tuple[Finding, ...] = ()) -> Tried:  # fmt: skip
    return Tried(reported, reported if taken_out is None else taken_out, late, inverted, findings)


@pytest.fixture
def warned(tmp_path: Path):
    """What is warned of a chain of one stage, or its data."""
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text("mix: a.wav\ninserts: [{name: glue, plugin: My Comp}]\n")
    chain = load_chain(tmp_path / "c.yaml")

    def made(shown: Shown, latency_frames: int = 0, of=trial_warnings):
        return of(chain, Examined({KEY: "my.vst3"}, {KEY: plugin(latency_frames)}), shown)

    return made


@pytest.mark.parametrize(
    ("one", "at_load", "words"),
    [
        (tried(), 0, []),
        (None, 480, ["delay 480 frames, taken out"]),
        (tried(480), 480, ["delay 480 frames as reported, taken out"]),
        (tried(64, 0.0, 441), 64, ["delay 441 frames as the chain file says, taken out"]),
        (tried(480, None), 480, ["delay 480 frames as reported, which cannot be measured, taken out"]),
        (tried(0, None), 0, ["delay cannot be measured"]),
        (tried(64, 377.0), 64, []),
        (tried(0, 0.0, findings=(DRY,)), 0, ["leaves noise at -20 dBFS as it is"]),
    ],
)
def test_a_stage_is_told_with_its_delay(one, at_load, words):
    assert stage_words(plugin(at_load), one, None) == words


def test_a_stage_is_told_with_whether_it_repeats():
    assert stage_words(plugin(), None, STEADY) == ["repeats"]
    assert stage_words(plugin(), tried(), NOISY) == ["never repeats (floor -54.0 dBFS, -38 dB against the sound)"]


@pytest.mark.parametrize(
    ("one", "at_load", "words"),
    [
        (tried(64, 376.9), 64, "is 377 samples late: it reports 64; write `latency: 441 samples`"),
        (tried(64, -59.0, 500), 64, "is 59 samples early: the chain file says 500; write `latency: 441 samples`"),
        (tried(480), 0, "reports a delay of 480 frames as it is set, and of 0 as it is loaded: it changes with a "
                        "setting"),
        (tried(inverted=True), 0,
         "turns the polarity over; where it is blended or on a bus, write `polarity: inverted`"),
        (tried(findings=(BURSTS,)), 0, "put out a burst that its input does not explain, at 0:03.0, on noise"),
    ],
)
def test_what_is_wrong_is_warned_of(warned, one, at_load, words):
    assert warned(Shown({KEY: one}), at_load) == (f"'glue' (My Comp) {words}",)


@pytest.mark.parametrize("one", [tried(), tried(480), tried(0, 1.2), tried(0, None), tried(findings=(DRY,))])
def test_what_is_as_it_should_be_is_not(warned, one):
    assert warned(Shown({KEY: one}), one.reported_frames) == ()
    assert warned(Shown({KEY: one}, Repeated({KEY: STEADY}, STEADY)), one.reported_frames) == ()


def test_a_chain_that_does_not_repeat_is_warned_of(warned):
    assert warned(Shown({}, Repeated({KEY: STEADY}, STEADY, "cannot write X")))[0].endswith("repeat: cannot write X")
    (said,) = warned(Shown({}, Repeated({KEY: NOISY}, NOISY)))
    assert said == ("the chain of the first variant never repeats (floor -54.0 dBFS, -38 dB against the sound): "
                    "a recall will differ as much")  # fmt: skip


def test_all_of_it_is_data(warned):
    shown = Shown({KEY: tried(64, 376.988, findings=(BURSTS,))}, Repeated({KEY: NOISY}, NOISY))
    assert warned(shown, 64, of=stages_data) == [{
        "name": "glue", "label": "", "plugin": "My Comp",
        "delay": {"reported_frames": 64, "at_load_frames": 64, "taken_out_frames": 64, "inverted": False,
                  "late_frames": 376.99},
        "behaviour": [{"kind": "bursts", "words": BURSTS.words, "at_s": [3.0]}],
        "repeats": {"verdict": NOISY.verdict, "again": {"identical": False, "peak_dbfs": -60.0, "relative_db": -40.0},
                    "fresh": {"identical": False, "peak_dbfs": -54.0, "relative_db": -38.0}},
    }]  # fmt: skip
    assert warned(Shown(), of=stages_data) == [{"name": "glue", "label": "", "plugin": "My Comp"}]
