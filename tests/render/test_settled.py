"""A stage as it stood in the end, to be looked into or heard again."""

from __future__ import annotations

from dataclasses import replace

from recall_sheets import CEILING, LIMITER, THRESHOLD

from sweeper.chain.model import Channels, Number, Travel
from sweeper.host.setup import Dialled, RideSetup, StageSetup
from sweeper.render.settled import settled


def test_what_was_solved_stands_where_it_ended_and_the_rest_as_it_was_asked_for():
    ride = RideSetup("up", "blend", "", Number(10.0, "%", "10 %"), True, ((1.0, 2.0),), 0.1)
    asked = StageSetup("limiter", "a.vst3", None, Channels.MID, (Dialled("Threshold", "", Number(-3, "dB", "-3 dB")),),
                       0.0, 0.0, output=True, bus="", rides=(ride,))  # fmt: skip
    record = replace(LIMITER, input_trim_db=4.5, output_trim_db=-0.35, blend=0.6)
    assert settled(asked, record) == replace(
        asked, input_trim_db=4.5, output_trim_db=-0.35, blend=0.6,
        settings=(Dialled("Threshold", "", Travel(THRESHOLD.raw, "-7.1 dB"), THRESHOLD.raw),
                  Dialled("Output Ceiling", "", Travel(CEILING.raw, "-1 dB"), CEILING.raw)),
    )  # fmt: skip
