"""What an exploration is told of rows: lower is better, and how far each is from what it must be."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented_rows import failed, limits, loudness_solved, measured, row

from sweeper.chain import load_chain
from sweeper.plan.reach import Ending
from sweeper.table.telling import LEAST_AWAY, NOT_JUDGED, told_of


@pytest.fixture
def chain(tmp_path: Path):
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text("""mix: mix.wav
output: {name: limiter, plugin: Brick, drive: raise Input}
reach: [{loudness: -10 LUFS, within: 0.2 LU, by: limiter.drive}]
limits: [crest >= 8 dB, mono loss <= 1 LU]
prefer: [crest highest, loudness range lowest]
""")
    return load_chain(tmp_path / "c.yaml")


HELD = limits("crest >= 8 dB", "mono loss <= 1 LU")


def told(chain, *made, **more):
    (one,) = told_of(chain, [row("001", *made, **more)]).values()
    return one


def test_what_is_preferred_is_the_better_the_lower(chain):
    one = told(chain, measured(crest=9.5, mono_loss_lu=0.5), HELD, [loudness_solved()])
    assert (one.values, one.violations, one.fits, one.landed) == ((-9.5, 5.0), (0.0, 0.0, 0.0), True, True)


def test_a_broken_limit_is_as_far_away_as_it_is_broken(chain):
    one = told(chain, measured(crest=6.5, mono_loss_lu=1.25), HELD, [loudness_solved()])
    assert one.violations == pytest.approx((1.5, 0.25, 0.0))
    assert not one.fits


def test_a_limit_that_is_broken_by_next_to_nothing_is_broken(chain):
    one = told(chain, measured(crest=8 - 1e-12, mono_loss_lu=0), HELD, [loudness_solved()])
    assert one.violations[0] == LEAST_AWAY


def test_a_target_out_of_reach_is_so_many_tolerances_away_and_teaches_nobody(chain):
    one = told(chain, measured(mono_loss_lu=0), HELD, [loudness_solved(-11.0, Ending.OUT_OF_REACH)])
    assert one.violations == pytest.approx((0.0, 0.0, 5.0))
    assert not one.landed


def test_a_limit_that_cannot_be_judged_is_not_met_and_one_on_nothing_is_not_broken(chain):
    one = told(chain, measured(crest=None), HELD, [loudness_solved()])
    assert one.violations == (NOT_JUDGED, 0.0, 0.0)
    assert one.values == (None, 5.0)
    assert one.is_bad


def test_a_failed_one_has_nothing(chain):
    (one,) = told_of(chain, [failed("001")]).values()
    assert (one.values, one.violations, one.failed) == ((None, None), (0.0, 0.0, 0.0), True)


def test_a_mix_is_as_far_away_as_its_own_limits_say(tmp_path):
    for name in ("mix.wav", "other.wav"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "c.yaml").write_text("""mixes: [mix.wav, {file: other.wav, limits: [crest >= 10 dB, mono loss <= 1 LU]}]
output: {name: limiter, plugin: Brick, drive: raise Input}
limits: [crest >= 8 dB]
prefer: [crest highest]
""")
    own = limits("crest >= 10 dB", "mono loss <= 1 LU")
    rows = [row("001", measured(crest=9.0), limits("crest >= 8 dB"), mix="mix.wav"),
            row("002", measured(crest=9.0, mono_loss_lu=3.0), own, mix="other.wav"),
            failed("003", "other.wav")]  # fmt: skip
    told_all = told_of(load_chain(tmp_path / "c.yaml"), rows)
    assert {id: one.violations for id, one in told_all.items()} == {
        "001": (0.0,), "002": (1.0, 2.0), "003": (0.0, 0.0)}  # fmt: skip
