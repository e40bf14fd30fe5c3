"""What a worker does for `reach_against_trials.py`: a loudness reach, then a stock optimiser on the same track."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
from reach_cases import Case, Limiter, goal_lufs, job_of

from sweeper.chain.model import Number, Switch
from sweeper.plan.reach import Direction
from sweeper.render.job import GoalOrder, ReachOrder
from sweeper.render.task import render_variant
from sweeper.workers import Report

WITHIN_LU = 0.1
MOST_THRESHOLD_DB, MOST_GAIN_DB = 30.0, 24.0


@dataclass(frozen=True)
class Trials:
    """A case and how it is tried. warm: the first seconds of its track."""

    case: Case
    warm: Path
    most: int
    seeds: int


@dataclass(frozen=True)
class Side:
    """What one way took. renders: full passes or trials; excerpts: in full passes. core_s: seconds of the processor.

    off_lu: how far from the target, by pyloudnorm.
    """

    renders: float
    excerpts: float
    wall_s: float
    core_s: float
    off_lu: float

    @property
    def landed(self) -> bool:
        """Whether it is on target, by an outside meter, from which ours may differ by 0.05 LU."""
        return abs(self.off_lu) <= WITHIN_LU + 0.05


def both(trials: Trials, report: Report) -> tuple[Side, Side]:
    """Ours, then the other. Runs in a worker."""
    case, goal = trials.case, goal_lufs(trials.case, report)
    small = Case(case.limiter, trials.warm, case.louder_lu, case.folder)
    ours(small, goal_lufs(small, report), report)
    tried(small, goal_lufs(small, report), 2, 0, report)
    mine = ours(case, goal, report)
    others = [tried(case, goal, trials.most, seed, report) for seed in range(1, trials.seeds + 1)]
    return mine, sorted(others, key=lambda side: side.renders)[len(others) // 2]


def ours(case: Case, goal: float, report: Report) -> Side:
    """One variant with a loudness reach, as a run renders it."""
    limiter = case.limiter
    order = ReachOrder(0, limiter.drive, "", limiter.way,
                       (GoalOrder("loudness_lufs", goal, 1, WITHIN_LU, False, "loudness"),))  # fmt: skip
    job = job_of(case, limiter.setup, (order,))
    began = time.perf_counter(), time.process_time()
    rendered = render_variant(job, report)
    took = time.perf_counter() - began[0], time.process_time() - began[1]
    heard, rate_hz = soundfile.read(job.target)
    job.target.unlink()
    off_lu = pyloudnorm.Meter(rate_hz).integrated_loudness(heard) - goal
    return Side(rendered.passes, rendered.excerpts, *took, off_lu)


def tried(case: Case, goal: float, most: int, seed: int, report: Report) -> Side:
    """A stock optimiser on the error."""
    import optuna

    optuna.logging.set_verbosity(optuna.logging.WARNING)
    began = time.perf_counter(), time.process_time()
    audio, rate_hz = soundfile.read(case.track, dtype="float32", always_2d=True)
    audio, meter = np.ascontiguousarray(audio.T), pyloudnorm.Meter(rate_hz)
    sound, seen = audio, list[float]()
    study = optuna.create_study(sampler=optuna.samplers.TPESampler(seed=seed))
    threshold = case.limiter.way is Direction.LOWER
    range_db = (-MOST_THRESHOLD_DB, 0.0) if threshold else (0.0, MOST_GAIN_DB)
    for _ in range(most):
        report.phase("a trial", 600.0)
        trial = study.ask()
        sound = through(case.limiter, audio, rate_hz, trial.suggest_float("drive", *range_db))
        off_lu = meter.integrated_loudness(sound.T) - goal
        study.tell(trial, abs(off_lu))
        seen.append(off_lu)
        if abs(off_lu) <= WITHIN_LU:
            break
    target = case.folder / "tried.wav"
    soundfile.write(target, sound.T, rate_hz, subtype="FLOAT")
    took = time.perf_counter() - began[0], time.process_time() - began[1]
    target.unlink()
    best = min(seen, key=abs)
    return Side(len(study.trials), 0.0, *took, float(best))


def through(limiter: Limiter, audio: np.ndarray, rate_hz: int, drive_db: float) -> np.ndarray:
    """The track through a new instance of the limiter. audio: (channels, frames)."""
    import pedalboard

    plain = {one.name.replace(" ", "_"): one.value.on if isinstance(one.value, Switch) else one.value.value
             for one in limiter.setup.settings if isinstance(one.value, Number | Switch)}  # fmt: skip
    if limiter.way is Direction.LOWER:
        plugin = pedalboard.load_plugin(limiter.setup.path)
        plugin.release_ms, plugin.threshold_db = plain["Release"], drive_db
        return np.asarray(plugin.process(audio, rate_hz, buffer_size=1024))
    plugin = pedalboard.BrickwallLimiter(**plain)
    driven = audio * np.float32(10 ** (drive_db / 20))
    return np.asarray(plugin.process(driven, rate_hz, buffer_size=1024))
