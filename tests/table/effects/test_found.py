"""The effects of a run from its rows: what is told, what is left out and why, and what cannot be told at all."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from invented_rows import failed, loudness_solved, measured, peak_solved, row
from swept_rows import AXES, rows_of, run_of, swept

from sweeper.errors import RunFolderError
from sweeper.plan.reach import Ending
from sweeper.table.effects import effects, measurable
from sweeper.table.effects.data import effects_data
from sweeper.table.effects.words import dominant, no_uncertainty, untold, within
from sweeper.table.row import OnExcerpts


def planted(settings):
    threshold = {"-18 dB": 0.0, "-15 dB": 0.5, "-12 dB": 1.0}[settings["glue.Threshold"]]
    return 9.0 - threshold + 0.25 * (settings["limiter.Release"] == "100 ms")


@pytest.fixture(scope="module")
def found():
    return effects(run_of(swept(AXES, planted)))


def one(found, setting, measurement="crest_db"):
    told = next(told for told in found.told if told.outcome.key == measurement)
    return next(effect for effect in told.effects if effect.setting == setting)


def test_planted_effects_come_back(found):
    change = one(found, "glue.Threshold").change
    assert (change.start, change.end, change.half) == ("-18 dB", "-12 dB", 0.0)
    assert change.difference == pytest.approx(-1.0)
    assert one(found, "limiter.Release").change.difference == pytest.approx(0.25)
    assert one(found, "glue.bypass").change.difference == pytest.approx(0.0)
    assert one(found, "glue.Threshold").importance.share > 0.8


def test_what_does_not_vary_is_left_out_and_said(found):
    assert [told.outcome.name for told in found.told] == ["crest"]
    assert found.left_out == (("loudness", "does not vary (0.00 LU)"), ("plr", "does not vary (0.00 dB)"),
                              ("loudness range", "does not vary (0.0 LU)"))  # fmt: skip


def test_a_sentence_says_what_decides(found):
    assert dominant(found.told[0]) == (
        "crest: most by glue.Threshold, -1.00 dB ± 0.00 from -18 dB to -12 dB; then limiter.Release (+0.25 dB ± 0.00)")


def test_the_data_hold_everything_and_are_json(found):
    data = json.loads(json.dumps(effects_data(found), allow_nan=False))
    assert (data["schema"], data["variants"], data["importance_draws"]) == (1, 12, 200)
    assert [setting["name"] for setting in data["settings"]] == list(AXES)
    threshold = data["measurements"][0]["effects"][0]
    assert [level["variants"] for level in threshold["levels"]] == [4, 4, 4]
    assert [level["mean"] for level in threshold["levels"]] == pytest.approx([9.125, 8.625, 8.125])
    assert threshold["change"]["difference"] == pytest.approx(-1.0)
    assert threshold["change"]["standard_error"] == pytest.approx(0.0)
    assert threshold["importance"].keys() == {"share", "lowest_95", "highest_95"}


def test_settings_that_act_together_are_said_to():
    rows = swept(AXES, lambda s: 9.0 + 2.0 * ((s["glue.bypass"] == "on") == (s["limiter.Release"] == "5 ms")))
    told = effects(run_of(rows)).told[0]
    assert told.unexplained == pytest.approx(1.0)
    assert dominant(told) == ("crest: no change is larger than its ±; 100 % of its variation is settings acting "
                              "together: what one setting does depends on the others")  # fmt: skip


def test_solved_settings_are_measurements_and_what_is_reached_is_not_shown():
    rows = [row(id, measured(), solved=[loudness_solved(at=3.0 + at), peak_solved()],
                settings={"glue.Threshold": f"-{12 + at} dB", "limiter.drive": f"{3 + at} dB",
                          "limiter.ceiling": "-1.25 dB"})
            for at, id in enumerate(("001", "002", "003"))]  # fmt: skip
    found = effects(run_of(rows))
    assert [(told.outcome.name, told.outcome.unit) for told in found.told] == [("limiter.drive", "dB")]
    assert found.told[0].effects[0].change.difference == pytest.approx(-2.0)  # -14 dB asks for 2 dB more than -12 dB
    assert ("plr", "is set by what is reached") in found.left_out
    assert ("limiter.ceiling", "does not vary (0.00 dB)") in found.left_out
    assert [factor.name for factor in found.factors] == ["glue.Threshold"]


def test_solved_settings_of_alternatives_with_units_of_their_own_stand_apart():
    rows = [row(f"00{at}", measured(), solved=[replace(loudness_solved(at=at), unit=unit)],
                settings={"limiter": name, "glue.bypass": bypass, "limiter.drive": "x"})
            for at, (name, unit, bypass) in enumerate([("One", "dB", "on"), ("One", "dB", "off"), ("Two", "%", "on"),
                                                       ("Two", "%", "off")])]  # fmt: skip
    found = effects(run_of(rows))
    assert [told.outcome.name for told in found.told] == ["limiter.drive in dB", "limiter.drive in %"]
    assert untold(found) == ["limiter on anything: it has one value only in what was measured"]


def test_a_single_setting_has_no_uncertainty_and_that_is_said():
    found = effects(run_of(rows_of([{"a.b": f"{at} dB"} for at in range(4)], [9.0, 8.0, 8.5, 7.0])))
    change = found.told[0].effects[0].change
    assert (change.difference, change.half) == (pytest.approx(-2.0), None)
    assert no_uncertainty(found)[0].startswith("nothing has a ±")
    assert "4 variants are few: importances say little" in found.remarks


def test_what_is_not_heard_everywhere_is_told_where_it_is():
    axes = {**AXES, "glue.Threshold": ("-18 dB", "-12 dB")}
    rows = swept(axes, lambda s: 9.0 + (s["glue.bypass"] == "off") * (1 + (s["glue.Threshold"] == "-12 dB")))
    heard = [replace(one, settings={name: text for name, text in one.settings.items() if name != "glue.Threshold"})
             if one.settings["glue.bypass"] == "on" else one for one in rows]
    found = effects(run_of(heard))
    assert within(found) == ["glue.Threshold is heard in 4 of 8 variants, and told within these"]
    assert one_change(found, "glue.Threshold") == pytest.approx(1.0)
    assert one_change(found, "glue.bypass") == pytest.approx(-1.5)


def one_change(found, setting):
    return one(found, setting).change.difference


def test_several_mixes_are_each_taken_by_itself():
    rows = swept(AXES, planted) + [replace(one, id=f"1{one.id}") for one in
                                   swept(AXES, lambda s: planted(s) + 5.0, mix="other.wav")]  # fmt: skip
    found = effects(run_of(rows))
    assert found.mixes == ("mix.wav", "other.wav")
    change = one(found, "glue.Threshold").change
    assert (change.difference, change.half) == (pytest.approx(-1.0), 0.0)
    assert one(found, "glue.Threshold").importance.share > 0.8


def test_failed_missing_and_missed_variants_are_said():
    rows = swept(AXES, planted)
    out = loudness_solved(value=-12.0, ending=Ending.OUT_OF_REACH, why="its lowest value")
    rows[0] = replace(rows[0], solved=(out,), settings={**rows[0].settings, "limiter.drive": "3 dB"})
    remarks = effects(run_of([*rows, failed("013")], asked=15)).remarks
    assert remarks[:2] == ("2 of 15 variants are not in this table: the run was stopped",
                           "1 of 13 variants failed and are left out")  # fmt: skip
    assert remarks[2].startswith("1 of 12 variants are not where the reach was to land")


@pytest.mark.parametrize("ending", [Ending.STOPPED, Ending.ON_TARGET])
def test_loudness_is_told_where_it_was_to_be_reached_and_was_not(ending):
    rows = []
    for number, each in enumerate(swept(AXES, planted)):
        landed = loudness_solved(value=-10.0 - 0.2 * number, ending=ending)
        rows.append(replace(each, solved=(landed,), settings={**each.settings, "limiter.drive": "3 dB"},
                            measurements=measured(loudness=-10.0 - 0.2 * number)))  # fmt: skip
    found = effects(run_of(rows))
    assert ("loudness" in [told.outcome.name for told in found.told]) == (ending is Ending.STOPPED)
    assert (("loudness", "is what is reached") in found.left_out) == (ending is Ending.ON_TARGET)


def test_a_measurement_is_told_by_name_or_key_even_where_it_does_not_vary():
    run = run_of(swept(AXES, planted))
    assert "crest" in measurable(run)
    found = effects(run, ["True Peak", "crest_db", "crest"])
    assert [told.outcome.key for told in found.told] == ["true_peak_dbtp", "crest_db"]
    assert dominant(found.told[0]) == "true peak: does not vary"
    change = one(found, "glue.Threshold", "true_peak_dbtp").change
    assert (change.start, change.end, change.stands_out) == ("-18 dB", "-12 dB", False)
    assert one(found, "glue.Threshold", "true_peak_dbtp").importance is None


def test_a_gap_costs_its_variant_only():
    rows = swept(AXES, planted)
    rows[3] = replace(rows[3], measurements=measured(crest=None))
    found = effects(run_of(rows))
    assert len(found.told[0].outcome.known) == 11
    assert one_change(found, "glue.Threshold") == pytest.approx(-1.0)
    assert math.isclose(one(found, "glue.Threshold").change.half, 0.0, abs_tol=1e-9)


@pytest.mark.parametrize(
    ("rows", "names", "what"),
    [
        ([failed("001"), failed("002")], (), "every variant failed"),
        (rows_of([{"a.b": "1 dB"}], [9.0]), (), "one variant only was rendered"),
        ([*rows_of([{"a.b": "1 dB"}], [9.0]), failed("002")], (), "one variant only was rendered"),
        (rows_of([{"a.b": "1 dB"}] * 2, [9.0, 8.0]), (), "no setting differs between the variants"),
        (rows_of([{"a.b": "1 dB"}, {"a.b": "2 dB"}], [9.0, 9.0]), (), "nothing that is usually told varies"),
        (rows_of([{"a.b": "1 dB"}, {"a.b": "2 dB"}], [9.0, 8.0]), ("psr",), "no variant has a value of 'psr'"),
    ],
)
def test_nothing_to_tell_is_said(rows, names, what):
    with pytest.raises(RunFolderError) as error:
        effects(run_of(rows), names)
    assert what in error.value.what
    assert error.value.remedy


def test_an_exploration_on_excerpts_is_told_by_them_of_all_its_variants():
    rows = []
    for number, one_row in enumerate(swept(AXES, planted)):
        tried = OnExcerpts(one_row.measurements, (), (), 0.2)
        louder = measured(crest=20.0 + number)
        rows.append(replace(one_row, on_excerpts=tried, measurements=louder if number < 3 else None,
                            status="done" if number < 3 else "tried"))  # fmt: skip
    found = effects(run_of(rows))
    assert found.variants == 12
    assert one(found, "glue.Threshold").change.difference == pytest.approx(-1.0)
    assert any("on excerpts" in words for words in found.remarks)


def test_what_is_otherwise_on_each_mix_is_said_to_be():
    rows = [replace(each, id=f"{mix}{each.id}", mix=mix, measurements=measured(crest=sign * planted(each.settings)))
            for mix, sign in (("a.wav", 1), ("b.wav", -1)) for each in swept(AXES, planted)]  # fmt: skip
    assert "settings acting together, or otherwise on each mix" in dominant(effects(run_of(rows)).told[0])
