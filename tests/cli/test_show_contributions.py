"""What each stage does, as it is printed: whole tables, failures, and where what is solved goes."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest
from invented_rows import loudness_solved, measured
from rich.console import Console

from sweeper.chain import load_chain
from sweeper.cli.main import exit_code
from sweeper.cli.show_contributions import show_contributions
from sweeper.plan.reach_terms import Ending
from sweeper.plan.variants import Variant
from sweeper.quantities import OF_FILES, Measurements
from sweeper.records import Source
from sweeper.render.job import Rendered
from sweeper.table.contributions import Contributions, Moved, PartTold, change

TEXT = """mix: mix.wav
inserts: [{name: tube, plugin: "builtin:Gain"}]
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
reach: [{loudness: -10 LUFS, by: limiter.drive}]
"""


def told(lufs: float, peak: float, crest: float) -> Measurements:
    values = dict.fromkeys((quantity.key for quantity in OF_FILES), None)
    return Measurements({**values, **measured(lufs, peak, crest, tilt_db=-0.31, correlation=0.8).values})


MIX, TUBE, FULL, CLEAN = told(-18.2, -3.0, 14.0), told(-17.0, -2.4, 13.6), told(-10.0, -1.0, 9.0), told(-10.1, -1, 9.6)
WORDS = """\
variant 007 (tube.gain db 2 dB) of mix.wav

the sound after each stage, as it stands
                                    crest
           LUFS   dBTP  crest dB  loud dB  PSR dB  range LU  tilt dB  side dB  corr  mono LU
mix      -18.20  -3.00     14.00        -       -       5.0    -0.31        -  0.80        -
tube     -17.00  -2.40     13.60        -       -       5.0    -0.31        -  0.80        -
limiter  -10.00  -1.00      9.00        -       -       5.0    -0.31        -  0.80        -

what each stage changes there, against the sound before it at equal loudness; gain: how much louder
  it makes it
                                       crest
         gain LU  peak dB  crest dB  loud dB  PSR dB  range LU  tilt dB  side dB  corr  mono LU
tube       +1.20    -0.60     -0.40        -       -       0.0     0.00        -  0.00        -
limiter    +7.00    -5.60     -4.60        -       -       0.0     0.00        -  0.00        -

what each stage contributes to the whole: the full chain against the chain without it, solved again,
  at equal loudness; gain: how much louder the full chain was before that
                                          crest
            gain LU  peak dB  crest dB  loud dB  PSR dB  range LU  tilt dB  side dB  corr  mono LU
tube (bus)    +0.10    -0.10     -0.60        -       -       0.0     0.00        -  0.00        -
limiter       +7.00    -5.60     -4.60        -       -       0.0     0.00        -  0.00        -

where what is solved stands, and where it goes without a stage
                     limiter.drive
full chain                  3.2 dB
without tube (bus)  4.4 dB (+1.20)
without limiter                  -
it lands within 0.1 LU: a smaller difference in loudness or peaks may be no more than that

without limiter: nothing solves loudness; the comparison is matched by gain alone
note: 'tube' hums
note: mind this"""


@pytest.fixture
def found(tmp_path: Path) -> Contributions:
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT)
    rendered = Rendered(FULL, Source("mix.wav", "", 2, 48000, 1), (), (loudness_solved(at=3.2),), ("'tube' hums",),
                        "", 3, 1.0, 1.0)  # fmt: skip
    behind = (PartTold("", MIX), PartTold("tube", TUBE, change=change(MIX, TUBE)),
              PartTold("limiter", FULL, change=change(TUBE, FULL)))  # fmt: skip
    without = (PartTold("tube", CLEAN, "", change(CLEAN, FULL), True, (),
                        (Moved(loudness_solved(at=3.2), loudness_solved(at=4.4)),)),
               PartTold("limiter", TUBE, "", change(TUBE, FULL), dropped=("loudness_lufs",)))  # fmt: skip
    variant = Variant("007", 0, {"tube.gain db": "2 dB"}, ())
    return Contributions(load_chain(tmp_path / "c.yaml"), variant, rendered, behind, without, ("mind this",), {})


def shown(found: Contributions, width: int = 100) -> str:
    console = Console(width=width, record=True, file=io.StringIO(), color_system=None)
    show_contributions(found, console)
    return "\n".join(line.rstrip() for line in console.export_text().splitlines())


def test_the_whole_answer(found):
    assert shown(found) == WORDS


def test_a_narrow_terminal_gets_the_first_columns_whole(found):
    lines = shown(found, 50).splitlines()
    assert next(line for line in lines if line.startswith("tube ")).split() == ["tube", "-17.00", "-2.40", "13.60", "-"]
    assert max(map(len, lines[3:6])) <= 50


def test_what_failed_without_a_stage_is_a_line_and_the_reason(found):
    broken = replace(found.without[0], measured=None, cause="crashed at 0:01.0", change=None, moved=())
    text = shown(replace(found, without=(broken, found.without[1])))
    assert "tube (bus)" in text and "failed" in text
    assert "without tube: failed: crashed at 0:01.0" in text
    assert replace(found, without=(broken,)).failed and not found.failed


def test_a_goal_out_of_reach_is_told_of_whom(found):
    missed = loudness_solved(-12.5, Ending.OUT_OF_REACH, "the end of its way, 24", at=24)
    part = replace(found.without[0], moved=(Moved(loudness_solved(at=3.2), missed),))
    text = shown(replace(found, without=(part,)))
    assert "without tube: loudness is out of reach: closest -12.50 LUFS at limiter.drive 24 dB" in text
    assert "24 dB (out of reach)" in text, "how far it went would say nothing"


def test_a_number_and_a_mix_are_one_question_too_many(capsys):
    assert exit_code(["contributions", "x.yaml", "--variant", "1", "--mix", "2"]) == 2
    assert "leave --mix or --variant out" in capsys.readouterr().err


def test_data_has_every_number_unrounded(found):
    data = found.as_data()
    assert (data["schema"], data["variant"], data["matched_over"]) == (1, "007", [])
    tube, limiter = data["without"]
    assert tube["gain_db"] == pytest.approx(0.1) and tube["changes"]["true_peak_dbtp"] == pytest.approx(-0.1)
    assert tube["solved"][0]["moved"] == pytest.approx(1.2) and tube["bus"]
    assert limiter["dropped"] == ["loudness_lufs"]
    assert [part["stage"] for part in data["behind"]] == [None, "tube", "limiter"]
