"""From outcomes to rows: failures keep their cause, and levels are matched within each mix."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from invented_rows import loudness_solved

from sweeper.chain import load_chain
from sweeper.chain.model import Mark, Preference
from sweeper.errors import SettingError
from sweeper.plan.examine import Examined
from sweeper.plan.reach import Direction, Ending
from sweeper.plan.variants import Turn, Variant, variants
from sweeper.quantities import Measurements
from sweeper.records import Applied, Source, StageRecord
from sweeper.render.job import Rendered, Solved
from sweeper.table.data import row_data, row_from
from sweeper.table.rows import failed_row, matched_rows, order_warnings, ranked_rows, rendered_row
from sweeper.workers import Cause, Failed

TEXT = """
mixes: [{file: a.wav, sections: {verse: "0:01-0:02", chorus: "0:02-0:03"}},
  {file: b.wav, sections: {chorus: "0:04-0:05"}}]
inserts: [{name: one, plugin: "builtin:Gain"}]
vary: {one.gain db: [-3 dB, -6 dB]}
limits: [true peak <= -1 dBTP]
prefer: [crest highest]
audition: {match over: [chorus]}
"""
SOURCE = Source("a.wav", "", 2, 44100, 100)


@pytest.fixture
def chain(tmp_path: Path):
    for name in ("a.wav", "b.wav"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT)
    return load_chain(tmp_path / "c.yaml")


@pytest.fixture
def found(chain) -> tuple[Variant, ...]:
    return variants(chain, Examined({("one", ""): "builtin:Gain"}))


def measured(loudness: float, chorus: float | None = None, peak: float = -6.0, crest: float = 10.0) -> Measurements:
    whole = {"loudness_lufs": loudness, "true_peak_dbtp": peak, "crest_db": crest}
    parts = {} if chorus is None else {"chorus": Measurements({"loudness_lufs": chorus})}
    return Measurements(whole, {}, parts)


def row(chain, variant: Variant, measurements: Measurements, *solved: Solved):
    rendered = Rendered(measurements, SOURCE, (), solved, ("a note",), "", 3, 0.5, 1.0)
    return rendered_row(chain, variant, rendered, {})


def failed(cause: Cause, what: str, error: Exception | None = None) -> Failed:
    return Failed("001", cause, what, "rendering", "0:12.0", (), error)


@pytest.mark.parametrize(
    ("failure", "cause"),
    [
        (failed(Cause.CRASHED, "crashed with a segmentation fault"), "crashed with a segmentation fault"),
        (failed(Cause.ERROR, "no", SettingError("'Gain' cannot be 90 dB", "write less")),
         "'Gain' cannot be 90 dB (write less)"),
        (failed(Cause.ERROR, "no", ValueError("3")), "ValueError: 3"),
    ],
)  # fmt: skip
def test_a_failure_is_a_row_that_says_why(chain, found, failure, cause):
    made = failed_row(chain, found[1], failure)
    assert (made.id, made.mix, made.status, made.cause) == ("002", "a.wav", "failed", cause)
    assert made.settings == {"one.gain db": "-6 dB"}
    assert not made.done and not made.fits


def test_a_rendered_row_has_its_settings_and_its_verdicts(chain, found):
    solved = Solved("loudness_lufs", -14.0, -14.0, Ending.ON_TARGET, "limiter.input trim", 7.2512, "dB", 3, "")
    ceiling = Solved("true_peak_dbtp", -1.0, -1.0, Ending.ON_TARGET, "limiter.ceiling db", -1e-06, "dB", 3, "")
    turns = (Turn(1, "input trim", "", Direction.RAISE, "limiter.drive"),
             Turn(1, "ceiling db", "", Direction.UNKNOWN, "limiter.ceiling"))  # fmt: skip
    made = row(chain, replace(found[2], turns=turns), measured(-14.0, peak=-0.5), solved, ceiling)
    assert made.settings == {"one.gain db": "-3 dB", "limiter.drive": "7.25 dB", "limiter.ceiling": "0 dB"}
    assert made.solved == (solved, ceiling)
    assert (made.mix, made.status, made.notes, made.passes) == ("b.wav", "done", ("a note",), 3)
    assert [(v.limit, v.met) for v in made.verdicts] == [("true peak <= -1 dBTP", False)]


def test_a_step_from_where_a_setting_is_dialled_is_shown_with_what_the_plugin_showed_there(chain, found):
    """The engineer sees "-22 (+5 % travel)", not a step from something that stands elsewhere."""
    setting = Applied("Threshold", 0, "", "dialled +5 % travel", 0.7, "-22.000000")
    stage = StageRecord("glue", "C", "c.vst3", "", "", "", "", "", "", "stereo", False, 0.0, 0.0, 0, (setting,), ())
    variant = replace(found[0], varied={"glue.Threshold": "dialled +5 % travel", "glue.Ratio": "2", "glue": "Valve"})
    rendered = Rendered(measured(-14.0), SOURCE, (stage,), (), (), "", 1, 0.5, 1.0)
    assert rendered_row(chain, variant, rendered, {}).settings == {
        "glue.Threshold": "-22 (+5 % travel)", "glue.Ratio": "2", "glue": "Valve"}  # fmt: skip


def test_a_row_says_what_its_mix_had_and_is_held_to_its_mixs_limits(chain, tmp_path):
    own = "{file: b.wav, settings: {one.output trim: -2 dB, one.Mode: B}, " \
          "limits: [true peak <= -2 dBTP, crest >= 9 dB],"  # fmt: skip
    (tmp_path / "own.yaml").write_text(TEXT.replace("{file: b.wav,", own))
    chain = load_chain(tmp_path / "own.yaml")
    first, _, third, _ = variants(chain, Examined({("one", ""): "builtin:Gain"}))
    standing = (Applied("mode", 0, "", "", 0.0, "A"), Applied("other", 1, "", "", 0.0, "C"))
    stage = StageRecord("one", "G", "g", "", "", "", "", "", "", "stereo", False, 0.0, 0.0, 0, (), standing)
    rendered = Rendered(measured(-14.0, peak=-1.5), SOURCE, (stage,), (), (), "", 1, 0.5, 1.0)
    rows = [rendered_row(chain, variant, rendered, {}) for variant in (first, third)]
    assert [one.settings for one in rows] == [
        {"one.output trim": "0 dB", "one.Mode": "A", "one.gain db": "-3 dB"},
        {"one.output trim": "-2 dB", "one.Mode": "B", "one.gain db": "-3 dB"},
    ]
    assert [one.own for one in rows] == [("one.output trim", "one.Mode")] * 2
    assert all(row_from(row_data(one)).own == one.own for one in rows)
    assert [[(v.limit, v.met) for v in one.verdicts] for one in rows] == [
        [("true peak <= -1 dBTP", True)], [("true peak <= -2 dBTP", False), ("crest >= 9 dB", True)]]  # fmt: skip
    ended = failed_row(chain, first, failed(Cause.HUNG, "hung"))
    assert ended.settings == {"one.output trim": "0 dB", "one.Mode": "as dialled", "one.gain db": "-3 dB"}


def test_levels_are_matched_within_each_mix_over_the_named_section(chain, found):
    rows = [row(chain, found[0], measured(-10, chorus=-8)), row(chain, found[1], measured(-12, chorus=-9)),
            row(chain, found[2], measured(-30, chorus=-29)),
            failed_row(chain, found[3], failed(Cause.HUNG, "hung"))]  # fmt: skip
    matched, mix_gains = matched_rows(chain, rows, [measured(-20, chorus=-13), measured(-35, chorus=-24)])
    assert [one.match_gain_db for one in matched] == [-5, -4, 0, None]
    assert mix_gains == [0, -5]
    assert [one.id for one in matched] == ["001", "002", "003", "004"]


def test_the_best_row_of_each_mix_comes_first_and_failures_last(chain, found):
    rows = [failed_row(chain, found[0], failed(Cause.HUNG, "hung")), row(chain, found[1], measured(-10, crest=9)),
            row(chain, found[2], measured(-10, crest=12)),
            row(chain, found[3], measured(-10, peak=0.0, crest=20))]  # fmt: skip
    ranked = ranked_rows(chain, rows)
    assert [(one.id, one.rank) for one in ranked] == [("002", 1), ("001", None), ("003", 1), ("004", None)]
    unranked = ranked_rows(replace(chain, prefer=()), rows)
    assert [(one.id, one.rank) for one in unranked] == [(f"{n:03d}", None) for n in range(1, 5)]


def test_what_was_stopped_at_other_loudness_is_told_to_favour_the_quieter(chain, found):
    rows = [row(chain, found[0], measured(-10, crest=9)), row(chain, found[1], measured(-11.5, crest=12))]
    rows = [replace(one, solved=(loudness_solved(-10, ending, "as asked"),))
            for one, ending in zip(rows, (Ending.FARTHEST, Ending.STOPPED), strict=True)]  # fmt: skip
    words = ("loudness was stopped at different places, up to 1.5 LU apart: an order by crest may favour the quieter",)
    assert order_warnings(rows, chain.prefer) == words
    assert order_warnings(rows[:1], chain.prefer) == ()
    assert order_warnings(rows, (Preference("loudness_lufs", True, Mark(1, 1)),)) == ()
    on_target = [replace(one, solved=(loudness_solved(-10, Ending.ON_TARGET),)) for one in rows]
    assert order_warnings(on_target, chain.prefer) == ()


def test_variants_that_hardly_differ_are_said_of_each_mix_by_itself(chain, found):
    rows = [row(chain, found[0], measured(-10, crest=9)), row(chain, found[1], measured(-10, crest=9.1)),
            row(chain, found[2], measured(-10, crest=12)), row(chain, found[3], measured(-10, crest=15))]  # fmt: skip
    words = "the variants differ by only 0.10 dB of crest: the order says little"
    assert order_warnings(rows, chain.prefer) == (f"a.wav: {words}",)
    assert order_warnings(rows[:2], chain.prefer) == (words,)
    assert order_warnings(rows[2:], chain.prefer) == ()
    assert order_warnings(rows, ()) == ()
