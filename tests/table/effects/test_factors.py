"""What differed, as factors: numbers in order, switches, steps from where a setting is dialled, trends."""

from __future__ import annotations

import pytest
from invented_rows import loudness_solved, measured, row
from swept_rows import rows_of

from sweeper.table.effects.factors import factors_of


def factor(*texts, **more):
    """The factor of a setting that had these values, None where it was not heard, beside another varied one."""
    settings = [({} if text is None else {"a.b": text}) | {"c.d": f"text {at % 2}"} for at, text in enumerate(texts)]
    (found, *_), fixed = factors_of(rows_of(settings, [9.0] * len(texts), **more))
    assert fixed == ()
    return found


@pytest.mark.parametrize(
    ("texts", "values", "numbers", "unit"),
    [
        (["-12 dB", "-18 dB", "-12 dB"], ("-18 dB", "-12 dB"), (-18, -12), "dB"),
        (["0.1 kHz", "50 Hz"], ("50 Hz", "0.1 kHz"), (0.05, 0.1), "kHz"),
        (["50 %", "100 %"], ("50 %", "100 %"), (50, 100), "%"),
        (["37 % travel", "5 % travel"], ("5 % travel", "37 % travel"), (5, 37), "% travel"),
        (["on", "off"], ("off", "on"), (), ""),
        (["Warm", "Clean", "Warm"], ("Warm", "Clean"), (), ""),
        (["4", "1.5"], ("1.5", "4"), (1.5, 4), ""),
        (["4:1", "2:1"], ("4:1", "2:1"), (), ""),
        (["3 dB", "5 Hz"], ("3 dB", "5 Hz"), (), "dB"),
        (["-22 dB (+5 % travel)", "-24 dB (as dialled)"], ("-24 dB (as dialled)", "-22 dB (+5 % travel)"), (0, 5),
         "% travel"),
        (["-22 dB (+5 % travel)", "31 % (+5 % travel)", "-24 dB (as dialled)"], ("as dialled", "+5 % travel"), (0, 5),
         "% travel"),
        (["dialled +1 dB", "as dialled", "dialled -1 dB"], ("dialled -1 dB", "as dialled", "dialled +1 dB"),
         (-1, 0, 1), "dB"),
    ],
)  # fmt: skip
def test_values_in_their_order(texts, values, numbers, unit):
    found = factor(*texts, *texts)
    assert (found.values, found.trend) == (values, False)
    assert found.numbers == pytest.approx(numbers)
    assert found.unit == unit or not numbers


def test_who_has_it():
    assert factor("on", None, "off", None).chosen == (1, None, 0, None)


def test_what_has_one_value_is_told_apart_and_what_was_solved_is_no_factor():
    rows = [row(id, measured(), solved=[loudness_solved(at=float(id))],
                settings={"a.b": "1 dB", "c.d": text, "limiter.drive": f"{id} dB"})
            for id, text in (("001", "on"), ("002", "off"))]  # fmt: skip
    found, fixed = factors_of(rows)
    assert [one.name for one in found] == ["c.d"]
    assert fixed == ("a.b",)


def test_a_setting_whose_values_hardly_come_back_is_a_trend():
    explored = factor(*(f"{at}.{at} dB" for at in range(9)))
    assert explored.trend
    assert not explored.by_ratio
    assert factor(*(f"{2 ** at} ms" for at in range(9))).by_ratio
    assert not factor(*(f"{2 ** at} dB" for at in range(9))).by_ratio
    assert not factor("1 dB", "2 dB", "3 dB", "1 dB", "2 dB", "3 dB").trend


def test_a_setting_alone_is_told_value_by_value_until_there_are_many():
    def alone(count):
        (found,), _ = factors_of(rows_of([{"a.b": f"{at} dB"} for at in range(count)], [9.0] * count))
        return found

    assert not alone(12).trend
    assert alone(13).trend


def test_among_some_variants_values_that_none_has_are_gone_and_a_trend_keeps_its_range():
    three = factor("1 dB", "2 dB", "3 dB", "1 dB", "2 dB", "3 dB").among([0, 2, 3])
    assert (three.values, three.numbers, three.chosen) == (("1 dB", "3 dB"), (1, 3), (0, 1, 0))
    trend = factor(*(f"{at} dB" for at in range(9))).among([3, 4])
    assert (len(trend.values), trend.chosen) == (9, (3, 4))
