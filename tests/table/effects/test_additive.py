"""The fit against published examples, against another way of fitting, and against what was planted."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats

from sweeper.table.effects.additive import PLACES, fitted, places_of
from sweeper.table.effects.effect import effects_in
from sweeper.table.effects.factors import Factor

# Life of batteries in hours by plate material (3) and temperature (3), four of each. D. C. Montgomery, Design and
# Analysis of Experiments, chapter 5, battery design experiment; the data and its analysis of variance from memory.
BATTERIES = {(0, 0): (130, 155, 74, 180), (0, 1): (34, 40, 80, 75), (0, 2): (20, 70, 82, 58),
             (1, 0): (150, 188, 159, 126), (1, 1): (136, 122, 106, 115), (1, 2): (25, 70, 58, 45),
             (2, 0): (138, 110, 168, 160), (2, 1): (174, 120, 150, 139), (2, 2): (96, 104, 82, 60)}  # fmt: skip
INTERACTION, ERROR, TOTAL = 9613.78, 18230.75, 77646.97
# Yield of a pilot plant by temperature, concentration and catalyst. Box, Hunter and Hunter, Statistics for
# Experimenters, the 2^3 factorial; from memory.
YIELDS = (60, 72, 54, 68, 52, 83, 45, 80)
YIELD_EFFECTS = (23.0, -5.0, 1.5)


def levels(name, chosen, count):
    return Factor(name, tuple(f"value {at}" for at in range(count)), tuple(chosen))


def trend(name, numbers, unit="dB"):
    known = tuple(sorted(set(numbers)))
    return Factor(name, tuple(f"{x:g} {unit}" for x in known), tuple(known.index(x) for x in numbers), known, unit,
                  True)  # fmt: skip


def changes(values, factors, groups=None):
    fit, found = effects_in(np.asarray(values, dtype=np.float64), factors, groups or [0] * len(values))
    return fit, [one.change for one in found]


def test_two_way_analysis_of_a_textbook():
    cells = [(*cell, hours) for cell, four in BATTERIES.items() for hours in four]
    factors = [levels("material", [c[0] for c in cells], 3), levels("temperature", [c[1] for c in cells], 3)]
    fit, (material, temperature) = effects_in(np.array([float(c[2]) for c in cells]), factors, [0] * 36)
    assert [level.mean for level in material.levels] == pytest.approx([83.17, 108.33, 125.08], abs=0.005)
    assert [level.mean for level in temperature.levels] == pytest.approx([144.83, 107.58, 64.17], abs=0.005)
    assert fit.left_over == 36 - 1 - 2 - 2
    assert fit.unexplained == pytest.approx((INTERACTION + ERROR) / TOTAL, rel=1e-5)
    assert fit.spread**2 == pytest.approx((INTERACTION + ERROR) / 31, rel=1e-5)
    assert material.change.difference == pytest.approx(125.08 - 83.17, abs=0.01)
    assert material.change.standard_error == pytest.approx(fit.spread * np.sqrt(2 / 12))
    assert material.change.half == pytest.approx(stats.t.ppf(1 - 0.025 / 3, 31) * material.change.standard_error)


def test_two_to_the_three_of_a_textbook():
    corners = [corner[::-1] for corner in itertools.product((0, 1), repeat=3)]
    _, found = changes(YIELDS, [levels(str(n), [corner[n] for corner in corners], 2) for n in range(3)])
    assert [one.difference for one in found] == pytest.approx(YIELD_EFFECTS)


def test_what_is_planted_without_noise_comes_back_to_the_digit_and_without_doubt():
    combinations = list(itertools.product(range(3), range(2)))
    factors = [levels("a", [c[0] for c in combinations], 3), levels("b", [c[1] for c in combinations], 2)]
    fit, (a, b) = changes([10 + (0, 1, 2.5)[c[0]] - 0.4 * c[1] for c in combinations], factors)
    assert (a.difference, a.half) == (pytest.approx(2.5, abs=1e-12), 0.0)
    assert (b.difference, b.half) == (pytest.approx(-0.4, abs=1e-12), 0.0)
    assert fit.unexplained == 0.0


def test_unbalanced_data_fitted_otherwise():
    draw = np.random.default_rng(3)
    a, b, mix = draw.integers(0, 3, 25), draw.integers(0, 2, 25), draw.integers(0, 2, 25)
    values = 1.5 * (a == 2) - 0.7 * b + 4.0 * mix + draw.normal(0, 0.3, 25)
    fit, (of_a, of_b) = effects_in(values, [levels("a", a.tolist(), 3), levels("b", b.tolist(), 2)], mix.tolist())
    design = np.stack([np.ones(25), a == 1, a == 2, b, mix], axis=1).astype(float)
    solution, (squares,), *_ = np.linalg.lstsq(design, values)
    errors = np.sqrt(squares / 20 * np.diag(np.linalg.inv(design.T @ design)))
    means = [level.mean for level in of_a.levels]
    assert [means[1] - means[0], means[2] - means[0]] == pytest.approx(solution[1:3].tolist())
    assert (of_b.change.difference, of_b.change.standard_error) == pytest.approx((solution[3], errors[3]))
    assert of_b.change.half == pytest.approx(stats.t.ppf(0.975, 20) * errors[3])
    assert fit.left_over == 20


def test_intervals_hold_what_is_true_as_often_as_they_say():
    draw = np.random.default_rng(11)
    combinations = list(itertools.product(range(3), range(2)))
    factors = [levels("a", [c[0] for c in combinations], 3), levels("b", [c[1] for c in combinations], 2)]
    truth = np.array([0.5 * c[0] + 1.0 * c[1] for c in combinations])
    held = []
    for _ in range(1000):
        _, (_, b) = changes(truth + draw.normal(0, 0.4, 6), factors)
        held.append(abs(b.difference - 1.0) <= b.half)
    assert 0.93 <= np.mean(held) <= 0.97  # 95 %, of a thousand draws +- 1.4 % (two standard deviations)


def test_without_a_variant_to_spare_there_is_no_uncertainty():
    fit, (change,) = changes([9.0, 8.0, 8.5], [levels("a", range(3), 3)])
    assert (fit.left_over, fit.spread, fit.unexplained) == (0, None, None)
    assert (change.difference, change.standard_error, change.half) == (pytest.approx(1.0), None, None)


def test_a_setting_that_only_one_alternative_has_is_told_within_it():
    # (plugin, its drive): the second plugin has no such control
    had = [(0, 0), (0, 1), (0, 0), (0, 1), (1, None), (1, None)]
    other = [0, 0, 1, 1, 0, 1]
    values = [2.0 + 3.0 * plugin + 0.8 * (drive or 0) + 0.1 * o for (plugin, drive), o in zip(had, other, strict=True)]
    factors = [levels("plugin", [h[0] for h in had], 2), levels("drive", [h[1] for h in had], 2),
               levels("other", other, 2)]  # fmt: skip
    fit, (plugin, drive, o) = effects_in(np.array(values), factors, [0] * 6)
    assert (drive.variants, drive.change.difference, drive.change.half) == (4, pytest.approx(0.8), 0.0)
    assert plugin.change.difference == pytest.approx(3.0 - 0.4)  # against the first one at the mean of its drives
    assert o.change.difference == pytest.approx(0.1)
    assert fit.left_over == 2


def test_settings_that_went_together_are_not_told_apart():
    fit, found = effects_in(np.array([1.0, 2.0, 1.5, 2.5]),
                            [levels("a", [0, 1, 0, 1], 2), levels("b", [0, 1, 0, 1], 2), levels("c", [0, 0, 1, 1], 2)],
                            [0] * 4)  # fmt: skip
    assert [one.why for one in found] == ["these variants do not tell it apart from b",
                                          "these variants do not tell it apart from a", ""]  # fmt: skip
    assert found[0].change is None
    assert found[2].change.difference == pytest.approx(0.5)
    assert fit.left_over == 1


def test_a_trend_is_straight_with_few_variants_and_bent_with_many():
    def numbers(count):
        return np.random.default_rng(5).uniform(-20, 0, count).round(2).tolist()

    few, many = numbers(8), numbers(30)
    straight, (line,) = effects_in(np.array(few) * 0.1, [trend("a", few)], [0] * 8)
    assert not straight.bent
    assert line.change.difference == pytest.approx(0.1 * (max(few) - min(few)))
    values = -0.01 * (np.array(many) + 10) ** 2
    bent, (curve,) = effects_in(values, [trend("a", many)], [0] * 30)
    at = np.array(places_of(trend("a", many)))
    assert bent.bent
    assert [level.mean for level in curve.levels] == pytest.approx((-0.01 * (at + 10) ** 2).tolist())
    assert not curve.change.in_order
    assert curve.change.end == curve.levels[2].value


def test_a_trend_over_octaves_counts_octaves():
    numbers = [20.0 * 2 ** (at / 2) for at in range(13)]
    values = np.array([float(at) for at in range(13)])
    _, (one,) = effects_in(values, [trend("a", numbers, "Hz")], [0] * 13)
    assert [level.mean for level in one.levels] == pytest.approx([12 * share for share in PLACES])
    assert one.change.half == 0.0


def test_a_mix_is_taken_by_itself():
    fit = fitted(np.array([1.0, 2.0, 11.0, 12.0]), [levels("a", [0, 1, 0, 1], 2)], [0, 0, 1, 1])
    assert fit.unexplained == 0.0
    weights = fit.level_weights(0)
    assert fit.estimate(weights[1] - weights[0]).value == pytest.approx(1.0)
