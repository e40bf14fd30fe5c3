"""The table on terminals of several widths: what matters is there, and nothing is wider than the terminal."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_rows import failed, limits, loudness_solved, measured, peak_solved, row
from rich.console import Console

from sweeper.cli.show_table import HEADINGS, SHOWN, print_table, shown
from sweeper.cli.table_cells import Beside
from sweeper.plan.reach import Ending
from sweeper.quantities import QUANTITIES

HELD = limits("crest >= 8 dB", "true peak <= -1 dBTP")
MORE = {"short_term_max_lufs": -8.0, "correlation": 0.8, "mono_loss_lu": 0.4, "overs": 0.0, "rms_dbfs": -12.0}


def printed(width, rows, beside=(), wanted=(), margins=False, picked=()):
    console = Console(width=width, file=io.StringIO(), highlight=False)
    print_table(console, shown(rows, beside, wanted, margins, picked))
    return console.file.getvalue()


def rows(count_of_settings=0, solved=(), count=4):
    own = {f"stage{n}.Some Setting {n}": f"-{n}.25 dB" for n in range(count_of_settings)}
    return [row(f"{n:03d}", measured(crest=7.5 + n, **MORE), HELD, solved, settings=own) for n in range(1, count + 1)]


@pytest.mark.parametrize("width", [60, 80, 100, 140])
@pytest.mark.parametrize("many", [0, 2, 5, 12])
def test_limits_and_match_gain_are_there_however_narrow_and_nothing_is_wider_than_the_terminal(width, many):
    text = printed(width, [*rows(many), failed("009")], margins=False)
    assert max(map(len, text.splitlines()[:-1])) <= width
    for heading in ("LUFS", "dBTP", "limits", "match dB"):
        assert heading in text, heading
    assert text.count(" met ") == 4
    assert "failed" in text
    assert text.count("-2.00") == 4


texts = st.text("ab >%-5.", max_size=24) | st.just("-12.5 dB") | st.just("dialled +5 % travel")


@given(
    st.lists(st.tuples(st.lists(texts, min_size=5, max_size=5), st.floats(-30, 0), st.sampled_from(Ending),
                       st.floats(-99, 30), st.none() | st.integers(1, 1000)), min_size=1, max_size=12),
    st.integers(60, 140), st.booleans(),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_no_line_is_wider_than_the_terminal_whatever_the_rows_hold(drawn, width, margins):
    made = [
        row(f"{n:03d}", measured(loudness, crest=crest), HELD, [loudness_solved(loudness, ending)], rank=rank,
            settings={f"stage{k}.set": text for k, text in enumerate(values)})
        for n, (values, loudness, ending, crest, rank) in enumerate(drawn, 1)
    ]  # fmt: skip
    lines = printed(width, made, margins=margins).splitlines()
    assert max(len(line) for line in lines if not line.startswith("too narrow")) <= width
    assert sum("-2.00" in line for line in lines) == len(made), "no match gain is cut"


def test_measurements_go_first_and_what_is_wanted_goes_last():
    wide, narrow = printed(140, rows(2)), printed(60, rows(2), wanted=["mono_loss_lu"])
    assert all(HEADINGS[key] in wide for key in SHOWN)
    assert "mono LU" in narrow
    assert "corr" not in narrow
    assert narrow.count("-0.25 dB") == 4, "settings stay whole"


def test_headings_are_cut_before_values():
    text = printed(56, rows(2))
    assert "Some Se…" in text
    assert text.count("-1.25 dB") == 4


@pytest.mark.parametrize("width", [58, 62, 66, 72, 80])
def test_what_is_wanted_stays_while_headings_can_be_cut(width):
    assert "mono LU" in printed(width, rows(2), wanted=["mono_loss_lu"])


def test_settings_that_do_not_fit_are_named_below():
    text = printed(80, rows(12))
    assert "too narrow here for " in text
    assert "stage11.Some Setting 11" in text.splitlines()[-1]
    assert "stage0.Some Setting 0" not in text.splitlines()[-1]
    assert text.count("-0.25 dB") == 4, "a number keeps its unit however narrow it is"


def test_long_texts_go_on_in_a_second_line_and_numbers_keep_their_unit():
    long = [replace(one, settings={**one.settings, "sequence": "glue > colour > widener > tape",
                                   "colour.Drive": "dialled +5 % travel"}) for one in rows(3)]  # fmt: skip
    text = printed(80, long)
    assert max(map(len, text.splitlines())) <= 80
    for word in ("colour", "widener", "tape", "dialled", "-1.25 dB"):
        assert word in text, word
    assert "…" not in text.splitlines()[3]


def test_a_reach_that_missed_is_marked_in_its_row_without_colour():
    missed = row("002", measured(-9.31), HELD, [loudness_solved(-9.31, Ending.OUT_OF_REACH, "the end"), peak_solved()])
    quiet = row("003", measured(-10, peak=-1.4), HELD, [loudness_solved(), peak_solved(-1.4, Ending.NOT_ENGAGED)])
    lines = printed(100, [row("001", measured(), HELD, [loudness_solved(), peak_solved()]), missed, quiet]).splitlines()
    (marked,) = [line for line in lines if " !" in line]
    assert "-9.31 !" in marked
    assert marked.count(" !") == 1, "the true peak is where it should be"
    assert marked.startswith("002")


def test_the_colour_is_there_where_it_is_seen():
    console = Console(width=100, file=io.StringIO(), force_terminal=True, color_system="standard", highlight=False)
    missed = row("001", measured(-9.31), limits("crest >= 12 dB"), [loudness_solved(-9.31, Ending.OUT_OF_REACH, "x")])
    print_table(console, shown([missed], (), (), False))
    assert "\x1b[33m-9.31 !" in console.file.getvalue()
    assert "\x1b[31m1 broken" in console.file.getvalue()


def test_margins_have_a_column_for_each_limit_and_what_is_broken_is_marked():
    text = printed(100, rows(1), margins=True)
    assert ">= 8 dB" in text
    assert "<= -1 dBTP" in text
    assert "+0.50" in text
    assert "limits" not in text
    broken = printed(100, [row("001", measured(crest=7.6), HELD), row("002", measured(crest=9), HELD)], margins=True)
    assert "-0.40 !" in broken


def test_what_mixes_have_of_their_own_goes_first_where_it_is_narrow():
    settings = {"glue.Ratio": "2", "tone.Gain": "-3 dB", "limiter.Release": "50 ms", "limiter.drive": "7.25 dB"}
    rows_ = [row("001", measured(), HELD, [loudness_solved()], settings=settings, own=("glue.Ratio", "tone.Gain"))]
    assert shown(rows_, (), (), False).settings == ("limiter.Release", "limiter.drive", "glue.Ratio", "tone.Gain")
    narrow = printed(56, rows_)
    assert "7.25 dB" in narrow and "50 ms" in narrow
    assert "too narrow here for tone.Gain" in narrow or "too narrow here for glue.Ratio, tone.Gain" in narrow


def test_where_one_mix_alone_has_limits_nothing_is_met_by_the_others():
    free, held = row("001", measured(), mix="a.wav"), row("002", measured(), HELD, mix="b.wav")
    free_line, held_line = [line for line in printed(100, [free, held]).splitlines() if line[:3] in ("001", "002")]
    assert " met " in held_line
    assert "met" not in free_line and "judged" not in free_line
    assert "-2.00" in free_line, "its match gain stands where it should"


def test_margins_give_way_to_one_column_where_they_do_not_fit():
    text = printed(60, rows(3), margins=True)
    assert "limits" in text
    assert max(map(len, text.splitlines()[:-1])) <= 60


def test_ranks_and_picks_stand_with_the_name():
    ranked = [replace(one, rank=n if n < 3 else None) for n, one in enumerate(rows(1), 1)]
    text = printed(100, ranked, picked=["001"])
    assert "1. 001 *" in text
    assert "2. 002 " in text
    assert "\n   003 " in text


def test_files_beside_are_named_where_there_are_several():
    mix = Beside("mix", "songs/boats.wav", measured(-18.0), 0.0)
    one, two = (Beside("reference", f"records/{name}.wav", measured(-9.0)) for name in ("old", "new"))
    single = printed(100, rows(1), [mix, one])
    assert "\nmix " in single
    assert "\nreference " in single
    several = printed(100, rows(1), [mix, one, two])
    assert "ref. old" in several
    assert "ref. new" in several
    other = row("005", measured(), HELD, mix="b.wav")
    both = printed(100, [*rows(1), other], [mix, Beside("mix", "b.wav", measured())])
    assert "boats" in both


def test_every_quantity_that_can_be_shown_has_a_heading():
    assert {q.key for q in QUANTITIES} == set(HEADINGS)


def test_what_ranks_is_never_left_out_and_what_is_wanted_besides_is_named_where_it_is():
    text = printed(60, rows(12), wanted=["loudness_range_lu", "mono_loss_lu"])
    assert "range LU" in text
    assert "too narrow here for " in text
    assert "mono loss" in text.split("too narrow here for ")[1]
