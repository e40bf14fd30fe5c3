"""Deadlines and the words for where a task stood."""

from __future__ import annotations

from sweeper.workers.messages import Beat, Phase
from sweeper.workers.progress import advanced, begun, postponed


def test_a_phase_sets_the_limit_and_each_beat_starts_it_again() -> None:
    start = begun(100)
    loading = advanced(start, Phase("loading", 5), 103)
    beating = advanced(loading, Beat("", None), 107)
    assert (start.deadline_s, loading.deadline_s, beating.deadline_s) == (160, 108, 112)
    assert postponed(beating, 1_000).deadline_s == 1_112


def test_a_position_stands_until_the_next_one_or_the_next_phase() -> None:
    processing = advanced(begun(0), Phase("processing", 5), 0)
    at = advanced(processing, Beat("0:12.0", None), 0)
    assert (begun(0).words, processing.words) == ("while starting", "while processing")
    assert at.words == advanced(at, Beat("", None), 0).words == "while processing at 0:12.0"
    assert advanced(at, Phase("saving", 5), 0).words == "while saving"
