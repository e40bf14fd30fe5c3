"""Asking what to try next, and telling what came of it: the way into optuna.

What is asked hangs on the seed, on the numbers of the batches, and on what was told in the order of asking; not on who
finished first, and not on how often the process was begun anew.
"""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from sweeper.plan.method import Method, Way
from sweeper.plan.parameters import Between, Listed, Parameter
from sweeper.plan.space import Point, Space
from sweeper.plan.told import Told

if TYPE_CHECKING:  # it takes a third of a second to load, and most runs need none of it
    from optuna.distributions import BaseDistribution
    from optuna.samplers import BaseSampler
    from optuna.trial import FrozenTrial, Trial

#: Variants by chance before TPE begins to learn: as many as its makers take.
FIRST_BY_CHANCE = 10


class Explorer:
    """Chooses the points of one mix, batch after batch. seed, mix: what its chances are drawn from.

    asked: the points that it was not told of yet.
    """

    def __init__(self, space: Space, method: Method, seed: int, mix: int) -> None:
        import optuna

        optuna.logging.set_verbosity(optuna.logging.ERROR)
        self._space = space
        self._method = method
        self._drawn_from = (seed, mix)
        self._constraints: dict[int, tuple[float, ...]] = {}
        self._told: list[Told] = []
        self._waiting: list[Trial] = []
        self.asked: list[Point] = []
        self._study = optuna.create_study(directions=["minimize"] * method.objectives, sampler=self._sampler(0))

    def begin(self, batch: int) -> None:
        """A batch begins: its chances are its own."""
        self._study.sampler = self._sampler(batch)

    def ask(self) -> Point:
        """What to try next."""
        with _quiet():
            trial = self._study.ask()
            self._waiting.append(trial)
            self.asked.append(self._space.point(lambda parameter: _suggested(trial, parameter)))
            return self.asked[-1]

    def tell(self, told: Sequence[Told]) -> None:
        """What came of everything that was asked for since the last telling, in the order of asking."""
        waiting = self._cleared()
        for trial, (values, constraints) in zip(waiting, self._as_numbers(told), strict=True):
            self._constraints[trial.number] = constraints
            with _quiet():
                self._study.tell(trial, values)

    def learn(self, points: Sequence[Point], told: Sequence[Told]) -> None:
        """What came of points that others chose; what was asked for since the last telling is forgotten."""
        from optuna.trial import TrialState, create_trial

        for trial in self._cleared():
            self._study.tell(trial, state=TrialState.FAIL)
        for point, (values, constraints) in zip(points, self._as_numbers(told), strict=True):
            with _quiet():
                self._study.add_trial(create_trial(
                    values=values, params=dict(point), system_attrs={"constraints": list(constraints)},
                    distributions={name: _distribution(self._space.parameters[name]) for name in point},
                ))  # fmt: skip

    def _cleared(self) -> list[Trial]:
        waiting, self._waiting, self.asked = self._waiting, [], []
        return waiting

    def _as_numbers(self, told: Sequence[Told]) -> Iterator[tuple[list[float], tuple[float, ...]]]:
        """(values, constraints) of each. What has no value is as bad as the worst that was told, and fits least."""
        self._told += told
        known = [one for one in self._told if None not in one.values]
        worst = [max((one.values[n] or 0.0 for one in known), default=0.0) for n in range(self._method.objectives)]
        far = 1.0 + max((one.excess for one in self._told), default=0.0)
        for one in told:
            values = [bad if value is None else value for value, bad in zip(one.values, worst, strict=True)]
            yield values, (*one.violations, far if one.is_bad else 0.0)

    def _sampler(self, batch: int) -> BaseSampler:
        from optuna.samplers import NSGAIIISampler, NSGAIISampler, TPESampler

        seed = _seed(*self._drawn_from, batch)
        with _quiet():
            if self._method.way is Way.NSGA2:
                return NSGAIISampler(population_size=self._method.population, seed=seed,
                                     constraints_func=self._constraints_of)  # fmt: skip
            if self._method.way is Way.NSGA3:
                return NSGAIIISampler(population_size=self._method.population, seed=seed,
                                      constraints_func=self._constraints_of)  # fmt: skip
            return TPESampler(n_startup_trials=FIRST_BY_CHANCE, multivariate=True, group=True, constant_liar=True,
                              seed=seed, constraints_func=self._constraints_of)  # fmt: skip

    def _constraints_of(self, trial: FrozenTrial) -> Sequence[float]:
        return self._constraints[trial.number]


def _seed(*parts: int) -> int:
    """A seed of its own for every seed, mix and batch: neighbours in one have nothing in common."""
    return int.from_bytes(hashlib.sha256(repr(parts).encode()).digest()[:4], "big")


def _suggested(trial: Trial, parameter: Parameter) -> float:
    if isinstance(parameter, Between):
        return trial.suggest_float(parameter.name, parameter.low, parameter.high, log=parameter.log)
    if parameter.ordered:
        return trial.suggest_int(parameter.name, 0, parameter.count - 1)
    return int(trial.suggest_categorical(parameter.name, range(parameter.count)))


def _distribution(parameter: Parameter) -> BaseDistribution:
    from optuna.distributions import CategoricalDistribution, FloatDistribution, IntDistribution

    if isinstance(parameter, Listed) and not parameter.ordered:
        return CategoricalDistribution(range(parameter.count))
    if isinstance(parameter, Listed):
        return IntDistribution(0, parameter.count - 1)
    return FloatDistribution(parameter.low, parameter.high, log=parameter.log)


@contextmanager
def _quiet() -> Iterator[None]:
    """Without what optuna says to programmers: that a part of it is new, or will go in years."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
