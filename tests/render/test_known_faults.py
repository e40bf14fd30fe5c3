"""Which stage a failure is laid to, and when it is not tried again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning import setup
from plugin_fixtures import stage

from sweeper.audio import AudioFormat
from sweeper.errors import AudioFileError, PluginError, StateError, StoreError
from sweeper.render.known_faults import KnownFaults, concerned
from sweeper.render.orders import TimeOrder
from sweeper.workers import Cause, Failed, Task

GLUE, COLOUR = setup("a"), setup("b")
STAGES = (GLUE, COLOUR)
HUNG = Failed("001", Cause.HUNG, "gave no sign of life for 60 s while rendering at 0:12.0 in 'b' (b)", "rendering",
              "0:12.0 in 'b' (b)", (), None)  # fmt: skip
LOADING = Failed("001", Cause.CRASHED, "crashed while loading", "loading and setting 'a' (a.vst3)", "", (), None)


def raised(error: Exception) -> Failed:
    what = str(getattr(error, "what", error))
    return Failed("001", Cause.ERROR, what, "rendering", "0:03.0 in 'a' (a)", (), error)


@pytest.mark.parametrize(
    ("failed", "stage"),
    [
        (HUNG, COLOUR),
        (LOADING, GLUE),
        (replace(HUNG, cause=Cause.MEMORY), COLOUR),
        (replace(HUNG, position="0:12.0 in 'c' (c)"), None),
        (replace(HUNG, position=""), None),
        (replace(LOADING, phase="reading the mix"), None),
        (raised(PluginError("'b' (b) gave nan instead of a sample, channel 1 at 0:03.1")), COLOUR),
        (raised(StateError("stage 'a' (a): the state does not fit")), GLUE),
        (raised(PluginError("stage 'a': a.vst3 has changed since the run began")), None),
        (raised(AudioFileError("'b' (b) is a strange name for a mix")), None),
        (raised(StoreError("the disk is full")), None),
        (raised(ValueError("'b' (b) a fault of ours")), None),
    ],
)
def test_a_failure_is_laid_to_the_stage_that_its_words_name(failed, stage):
    assert concerned(STAGES, failed) == stage


def test_a_stage_that_is_bypassed_or_not_the_only_one_is_not_blamed():
    assert concerned((GLUE, replace(COLOUR, bypass=True)), HUNG) is None
    assert concerned((COLOUR, replace(COLOUR, output_trim_db=-1.0)), HUNG) is None


def test_the_second_time_is_enough():
    faults = KnownFaults()
    assert faults.met(0, STAGES, HUNG) is None
    assert faults.met(0, STAGES, replace(HUNG, key="002")) == COLOUR


def test_what_is_wrong_with_the_sound_is_not_known_and_what_does_not_load_is():
    spoilt = raised(PluginError("'a' (a) gave nan instead of a sample, channel 1 at 0:03.1"))
    refused = replace(raised(StateError("stage 'a' (a): the state does not fit")), position="")
    faults = KnownFaults()
    assert [faults.met(0, STAGES, spoilt) for _ in range(3)] == [None, None, None]
    assert [faults.met(0, STAGES, refused) for _ in range(2)] == [None, GLUE]


def test_a_plugin_that_crashes_while_it_is_set_is_known_by_its_workers_own_words(pool, probes):
    """`tests/plugins`: the probe crashes as soon as a setting is put."""
    odd = stage(probes["segfault_set"], name="odd", Amount="7")
    order = TimeOrder((stage(probes["gain"]), odd), AudioFormat(2, 44100), 0.5, 1024, 20.0)
    tasks = [Task(key, "sweeper.render.file_tasks:time_chain", order, "the test") for key in ("001", "002")]
    faults = KnownFaults()
    assert [faults.met(0, order.stages, outcome) for outcome in pool.map_in_order(tasks)] == [None, odd]


@pytest.mark.parametrize(
    "other",
    [
        (1, STAGES, HUNG),
        (0, (GLUE, setup("b", 0.25)), HUNG),
        (0, STAGES, replace(HUNG, what=HUNG.what.replace("0:12.0", "0:13.0"))),
        (0, STAGES, replace(HUNG, cause=Cause.CRASHED)),
    ],
    ids=["another mix", "another setting", "another time", "another end"],
)
def test_what_is_not_the_same_is_counted_by_itself(other):
    faults = KnownFaults()
    assert faults.met(0, STAGES, HUNG) is None
    assert faults.met(*other) is None


def test_what_is_known_is_told_with_its_mix_and_its_words():
    faults = KnownFaults()
    faults.met(0, STAGES, HUNG)
    assert faults.known() == ()
    again = replace(HUNG, key="002")
    faults.met(0, STAGES, again)
    assert faults.known() == ((0, COLOUR, again),)
