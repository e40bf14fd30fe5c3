"""Importances: what decides everything has nearly all of it, what decides nothing nearly none; the same every time."""

from __future__ import annotations

import itertools
import math
import subprocess
import sys

import pytest

from sweeper.plan import importance
from sweeper.plan.importance import Dial, draws_for, importances

DIALS = {"strong": Dial(3), "weak": Dial(2), "nothing": Dial(3)}
CHOSEN = [dict(zip(DIALS, chosen, strict=True)) for chosen in itertools.product(range(3), range(2), range(3))]
VALUES = [10.0 * one["strong"] + 0.1 * one["weak"] for one in CHOSEN]


@pytest.fixture
def few_draws(monkeypatch):
    """Where the ranges are not looked at."""
    monkeypatch.setattr(importance, "MOST_DRAWS", 10)
    monkeypatch.setattr(importance, "FEWEST_DRAWS", 10)


def test_what_decides_everything_has_nearly_all():
    found = importances(DIALS, CHOSEN, {"crest_db": VALUES})["crest_db"]
    assert found["strong"].share > 0.95
    assert found["strong"].lowest > found["nothing"].highest
    assert found["nothing"].share < 0.05
    assert sum(one.share for one in found.values()) == pytest.approx(1.0)
    assert all(0 <= one.lowest <= one.share <= one.highest <= 1 for one in found.values())


@pytest.mark.usefixtures("few_draws")
def test_it_does_not_matter_which_way_is_better():
    lopsided = [10.0 * (one["strong"] == 2) + one["weak"] + 0.1 * one["nothing"] for one in CHOSEN]
    one, other = (importances(DIALS, CHOSEN, {"m": [sign * v for v in lopsided]})["m"] for sign in (1, -1))
    assert [one[name].share for name in DIALS] == pytest.approx([other[name].share for name in DIALS])


@pytest.mark.usefixtures("few_draws")
def test_the_same_variants_give_the_same_numbers():
    assert importances(DIALS, CHOSEN, {"m": VALUES}) == importances(DIALS, CHOSEN, {"m": VALUES})


@pytest.mark.usefixtures("few_draws")
def test_a_setting_with_any_number_and_one_that_not_all_have():
    dials = {"plugin": Dial(2), "drive": Dial(2), "level": Dial(0, -20.0, 0.0)}
    chosen, values = [], []
    for at in range(24):
        level = -20.0 + 20.0 * at / 23
        chosen.append({"plugin": at % 2, "level": level, **({"drive": at // 2 % 2} if at % 2 else {})})
        values.append(level)
    found = importances(dials, chosen, {"m": values})["m"]
    assert found["level"].share > 0.7
    assert found["drive"].share < 0.2


@pytest.mark.usefixtures("few_draws")
def test_what_does_not_vary_or_is_not_there_has_none():
    gaps = [math.nan if at % 3 else value for at, value in enumerate(VALUES)]
    found = importances(DIALS, CHOSEN, {"same": [1.0] * 18, "none": [math.nan] * 18, "gaps": gaps})
    assert found.keys() == {"gaps"}
    assert found["gaps"]["strong"].share > 0.8


def test_draws_are_fewer_where_there_is_much_to_do():
    assert (draws_for(12, 3), draws_for(24, 32), draws_for(1000, 8), draws_for(12, 500)) == (200, 78, 50, 50)


def test_optuna_comes_with_the_first_importance_only_and_says_nothing():
    code = ("import sys, sweeper.plan.importance as i; early = 'optuna' in sys.modules\n"
            "i.importances({'a': i.Dial(2)}, [{'a': n % 2} for n in range(6)], {'m': [0., 1.] * 3})\n"
            "print(early, 'optuna' in sys.modules, 'sklearn' in sys.modules)")  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (done.stdout.split(), done.stderr) == (["False", "True", "False"], "")
