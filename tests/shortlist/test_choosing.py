"""A run ranked again: nothing is measured anew, so every verdict follows from the numbers in its table."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented_rows import failed, limits, loudness_solved, measured, row

from sweeper.chain.one_condition import read_preference_texts
from sweeper.errors import ChainFileError
from sweeper.plan.reach import Ending
from sweeper.shortlist import shortlist
from sweeper.table.written import WrittenRun

OWN = limits("true peak <= -1 dBTP")


def run(*rows, chain="prefer: [crest highest]\n", asked=None) -> WrittenRun:
    return WrittenRun(Path("results/tin-boats"), "Tin Boats", "finished", chain, asked or len(rows), rows, (), ())


def wish(*texts):
    return read_preference_texts(texts, "--prefer")


ROWS = (
    row("001", measured(crest=9.0, peak=-1.2, loudness_range_lu=4.0), OWN),
    row("002", measured(crest=11.0, peak=-0.5, loudness_range_lu=6.0), OWN),
    row("003", measured(crest=10.0, peak=-1.1, loudness_range_lu=5.0), OWN),
    failed("004"),
)


def order(found):
    return [(one.id, one.rank) for one in found.rows]


def test_without_options_the_runs_own_limits_and_preferences_hold():
    found = shortlist(run(*ROWS))
    assert order(found) == [("003", 1), ("001", 2), ("002", None), ("004", None)]
    assert found.limits == ("true peak <= -1 dBTP",)
    assert found.picked == ()


def test_given_limits_replace_the_runs_own_with_their_margins():
    found = shortlist(run(*ROWS), limits("crest >= 9.5 dB"))
    assert order(found) == [("002", 1), ("003", 2), ("001", None), ("004", None)]
    assert {one.id: round(one.verdicts[0].margin, 6) for one in found.rows if one.done} == {
        "001": -0.5, "002": 1.5, "003": 0.5}  # fmt: skip
    assert all(len(one.verdicts) == 1 for one in found.rows if one.done), "the old limit is gone"


def test_given_preferences_replace_the_runs_own():
    found = shortlist(run(*ROWS), prefer=wish("loudness range lowest"))
    assert order(found) == [("001", 1), ("003", 2), ("002", None), ("004", None)]


def test_without_a_preference_anywhere_the_files_order_stays():
    assert order(shortlist(run(*ROWS, chain="mix: gone.wav\n"))) == [(f"00{n}", None) for n in range(1, 5)]


def test_a_run_from_before_a_measurement_is_judged_and_ordered_by_the_others():
    # The table of an earlier version has no PSR: nothing is met or broken by it, and no order follows from it
    found = shortlist(run(*ROWS), limits("crest >= 10 dB", "psr >= 8 dB"), wish("psr highest", "crest highest"))
    verdicts = {one.id: [verdict.met for verdict in one.verdicts] for one in found.rows if one.done}
    assert verdicts == {"001": [False, None], "002": [True, None], "003": [True, None]}
    assert found.rows[0].verdicts[1].reason == "not measured"
    assert found.data["variants"]
    by_psr = shortlist(run(*ROWS), prefer=wish("psr highest", "crest highest"))
    assert order(by_psr) == [("003", 1), ("001", 2), ("002", None), ("004", None)]
    assert "no variant has a value of psr: the order says nothing" in by_psr.warnings


def test_the_best_that_fit_are_picked_and_too_few_are_said():
    assert shortlist(run(*ROWS), keep=1).picked == ("003",)
    assert shortlist(run(*ROWS), keep=2).warnings == ()
    found = shortlist(run(*ROWS), keep=3)
    assert found.picked == ("003", "001")
    assert "3 were asked for, and only 2 are on target and inside every limit" in found.warnings


def test_each_mix_has_its_own_ranks_and_picks():
    rows = [row("001", measured(crest=9)), row("002", measured(crest=12)), row("003", measured(crest=5), mix="b.wav"),
            row("004", measured(crest=7), mix="b.wav")]  # fmt: skip
    found = shortlist(run(*rows), keep=1)
    assert order(found) == [("002", 1), ("001", 2), ("004", 1), ("003", 2)]
    assert found.picked == ("002", "004")
    few = shortlist(run(*rows), limits("crest >= 6 dB"), keep=2)
    assert few.warnings[-1] == "b.wav: 2 were asked for, and only 1 is on target and inside every limit"


def test_what_missed_its_target_is_never_picked():
    missed = row("001", measured(-12.0, crest=14), (), [loudness_solved(-12.0, Ending.OUT_OF_REACH, "the end")])
    reached = row("002", measured(crest=9), (), [loudness_solved()])
    assert shortlist(run(missed, reached), keep=2).picked == ("002",)


def test_an_order_that_says_little_is_said():
    rows = [row(f"00{n}", measured(crest=9 + n / 20), OWN, [loudness_solved()]) for n in (1, 2)]
    assert shortlist(run(*rows)).warnings == (
        "crest is nearly fixed once loudness and true peak are: an order by it says little",
        "the variants differ by only 0.05 dB of crest: the order says little",
    )


def test_variants_that_never_came_in_are_said():
    assert shortlist(run(*ROWS, asked=9)).warnings == ("5 of 9 variants are not in this table: the run was stopped",)


def test_a_limit_on_what_that_run_did_not_measure_is_not_met():
    found = shortlist(run(row("001", measured())), limits("mono loss <= 1 LU", "rms <= -5 dBFS"))
    assert [v.met for v in found.rows[0].verdicts] == [None, None]
    assert not found.rows[0].fits


def test_a_chain_file_that_this_version_cannot_read_is_said():
    with pytest.raises(ChainFileError, match="no measurement is called"):
        shortlist(run(*ROWS, chain="prefer: [loudnes highest]\n"))


def test_the_data_for_json_has_everything():
    data = shortlist(run(*ROWS), limits("crest >= 9.5 dB"), wish("crest lowest"), 1).data
    assert (data["schema"], data["picked"], data["limits"], data["prefer"]) == (
        1, ["003"], ["crest >= 9.5 dB"], ["crest lowest"])  # fmt: skip
    variants = data["variants"]
    assert isinstance(variants, list)
    assert [one["id"] for one in variants] == ["003", "002", "001", "004"]


def test_mixes_with_limits_of_their_own_are_each_held_to_these():
    """Two mixes may bound the same thing from the same side, at different places."""
    ballad = limits("crest >= 12 dB", "mono loss <= 1 LU")
    rows = (row("001", measured(crest=9.0), limits("crest >= 8 dB"), mix="opener.wav"),
            row("002", measured(crest=11.0, mono_loss_lu=0.5), ballad, mix="ballad.wav"))  # fmt: skip
    found = shortlist(run(*rows))
    assert order(found) == [("001", 1), ("002", None)]
    assert found.limits == ("crest >= 8 dB", "crest >= 12 dB", "mono loss <= 1 LU")
