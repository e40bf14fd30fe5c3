"""How a variant stands against its targets: in words for every way in which a search can end."""

from __future__ import annotations

import pytest
from invented_rows import limits, loudness_solved, measured, peak_solved, row

from sweeper.audition.standing import limits_of, targets_of
from sweeper.plan.reach import Ending


@pytest.mark.parametrize("ending", Ending)
def test_every_ending_has_its_words_and_only_what_missed_is_not_met(ending):
    one = row("001", measured(), (), [loudness_solved(-10.4, ending), peak_solved(-1.5, ending)])
    for told in targets_of(one):
        assert told["ending"] == ("" if ending is Ending.ON_TARGET else ending.value)
        assert told["met"] is (ending is not Ending.OUT_OF_REACH)


def test_with_the_main_mixs_settings_a_peak_above_its_ceiling_is_not_met():
    (told,) = targets_of(row("001", measured(), (), [peak_solved(-0.6, Ending.AS_MAIN)]))
    assert (told["text"], told["met"], told["off"]) == ("true peak at most -1 dBTP", False, "+0.40 dB")


def test_each_row_is_told_its_own_limits():
    told = [limits_of(row("001", measured(crest=9.0), limits(text))) for text in ("crest >= 8 dB", "crest >= 10 dB")]
    assert [(one["text"], one["kept"]) for (one,) in told] == [("crest >= 8 dB", True), ("crest >= 10 dB", False)]
