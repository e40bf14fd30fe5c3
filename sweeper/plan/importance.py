"""How much each setting decides of a measurement: optuna's evaluator on variants that were made before."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from optuna.distributions import BaseDistribution
    from optuna.importance import PedAnovaImportanceEvaluator
    from optuna.study import Study
    from optuna.trial import FrozenTrial

#: Of the variants: the lowest third against all, and the highest likewise, so that no measurement needs a better end.
#: Of halves, a strong setting with two values would hide all others; of a tenth, the few variants of a sweep leave one,
#: in which every setting looks as important. Ours.
QUANTILE = 1 / 3
#: Draws of as many variants, with replacement: fewer where there is so much to work out that it would take seconds.
MOST_DRAWS, FEWEST_DRAWS, MOST_WORK = 200, 50, 60_000
PERCENTS = (2.5, 97.5)
SEED = 7


@dataclass(frozen=True)
class Dial:
    """A setting as the evaluator sees it. levels: how many values it had; 0 = any number from lowest to highest."""

    levels: int = 0
    lowest: float = 0.0
    highest: float = 0.0


@dataclass(frozen=True)
class Importance:
    """A setting's share of what all of them decide, 0.0 to 1.0. lowest, highest: of 95 % of the draws, share within."""

    share: float
    lowest: float
    highest: float


def draws_for(variants: int, shares: int) -> int:
    """How many draws the range of an importance comes from. shares: settings times measurements."""
    return max(FEWEST_DRAWS, min(MOST_DRAWS, MOST_WORK // max(1, variants * shares)))


def importances(
    dials: Mapping[str, Dial], chosen: Sequence[Mapping[str, float]], measured: Mapping[str, Sequence[float]]
) -> dict[str, dict[str, Importance]]:
    """Measurement -> setting -> importance. chosen: of each variant, the number of its level or its value; a setting
    that is not heard in a variant is left out. measured: a value for each variant, nan where there is none.

    PED-ANOVA (Watanabe, Bansal and Hutter, IJCAI 2023), of both ends, see QUANTILE; settings that not every variant has
    as of optuna 5. Its uncertainty is that of drawing the variants again, with a fixed seed: the same variants
    give the same numbers. Nothing for a measurement that does not vary.
    """
    trials = [_trial(dials, settings, number) for number, settings in enumerate(chosen)]
    values = {key: np.asarray(column, dtype=np.float64) for key, column in measured.items()}
    whole = _shares(trials, np.arange(len(trials)), values)
    draw = np.random.default_rng(SEED)
    count = draws_for(len(trials), len(dials) * len(measured))
    drawn = [_shares(trials, draw.integers(0, len(trials), len(trials)), values) for _ in range(count)]
    return {key: {name: _importance(shares.get(name, 0.0), [one[key].get(name, 0.0) for one in drawn if one[key]])
                  for name in dials} for key, shares in whole.items() if shares}  # fmt: skip


def _importance(share: float, drawn: Sequence[float]) -> Importance:
    low, high = np.percentile(drawn, PERCENTS) if drawn else (share, share)
    return Importance(share, min(share, float(low)), max(share, float(high)))


def _trial(dials: Mapping[str, Dial], settings: Mapping[str, float], number: int) -> FrozenTrial:
    from optuna.trial import create_trial

    params = {name: int(value) if dials[name].levels else float(value) for name, value in settings.items()}
    kinds = {name: _distribution(dials[name]) for name in settings}
    return create_trial(params=params, distributions=kinds, value=0.0, user_attrs={"variant": number})


def _distribution(dial: Dial) -> BaseDistribution:
    from optuna.distributions import CategoricalDistribution, FloatDistribution

    if dial.levels:
        return CategoricalDistribution(list(range(dial.levels)))
    return FloatDistribution(dial.lowest, dial.highest)


def _shares(trials: Sequence[FrozenTrial], numbers: np.ndarray, values: Mapping[str, np.ndarray]) \
        -> dict[str, dict[str, float]]:  # fmt: skip
    """Measurement -> setting -> share; {} where nothing can be told of it."""
    import optuna
    from optuna.importance import PedAnovaImportanceEvaluator

    evaluator = PedAnovaImportanceEvaluator(target_quantile=QUANTILE)
    spoken = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(optuna.logging.WARNING)
    try:
        with warnings.catch_warnings():  # it warns of the target, which is meant, and of few variants, which we tell
            warnings.simplefilter("ignore")
            study = optuna.create_study()
            study.add_trials([trials[number] for number in numbers])
            return {key: _evaluated(evaluator, study, column, column[numbers]) for key, column in values.items()}
    finally:
        optuna.logging.set_verbosity(spoken)


def _evaluated(evaluator: PedAnovaImportanceEvaluator, study: Study, column: np.ndarray, drawn: np.ndarray) \
        -> dict[str, float]:  # fmt: skip
    there = drawn[np.isfinite(drawn)]
    if there.size < 2 or there.min() == there.max():
        return {}
    ends = [evaluator.evaluate(study, target=partial(_value, column=column * sign)) for sign in (1.0, -1.0)]
    found = {name: sum(end.get(name, 0.0) for end in ends) for name in ends[0]}
    total = sum(found.values())
    return {name: value / total for name, value in found.items()} if total > 0 else {}


def _value(trial: FrozenTrial, column: np.ndarray) -> float:
    return float(column[trial.user_attrs["variant"]])
