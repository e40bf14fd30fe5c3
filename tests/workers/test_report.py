"""What a task reports, in order, with the watchdog armed only between messages."""

from __future__ import annotations

import pytest

from sweeper.workers.messages import Beat, Noted, Phase
from sweeper.workers.report import FIRST_LIMIT_S, Report


def test_each_sign_of_life_starts_the_phases_limit_again() -> None:
    told: list[object] = []
    report = Report(told.append, told.append)
    report.beat()
    report.phase("loading", 5)
    report.beat("0:01.0", 0.25)
    report.say({"a": 1})
    assert told == [
        *(None, Beat("", None), FIRST_LIMIT_S),
        *(None, Phase("loading", 5.0), 5),
        *(None, Beat("0:01.0", 0.25), 5),
        Noted({"a": 1}),
    ]


def test_nothing_is_heard_once_the_task_is_over() -> None:
    told: list[object] = []
    report = Report(told.append)
    report.close()
    report.phase("loading", 5)
    report.beat()
    report.say({})
    assert told == []


@pytest.mark.parametrize("limit_s", [0, -1, float("nan"), float("inf")])
def test_a_limit_is_a_positive_number(limit_s: float) -> None:
    with pytest.raises(ValueError, match="limit of 'loading'"):
        Report(print).phase("loading", limit_s)


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_a_share_lies_between_0_and_1(share: float) -> None:
    with pytest.raises(ValueError, match="share done"):
        Report(print).beat(share=share)
