"""An exploration against a stock optimiser that gets as many full renders. Prints a table; nothing is asserted.

    python tests/bench/explore_against_trials.py [--track FILE] [--from 60] [--seconds 30] [--variants 16] [--seeds 2]

Wanted: the highest crest.loud at -12 LUFS, within 0.1 LU, with no true peak above -1 dBTP. In doubt: threshold and
ratio of a compressor, a saturator's drive, a shelf's gain, a limiter's release. All are built-in effects.

- ours: `sweeper run` with `explore:`, one worker, an empty store; the loudness is a reach inside every variant.
- stock: optuna's TPE sampler as it comes, pedalboard with the whole excerpt in memory. The limiter's drive is one more
  setting, -12 to 24 dB, and what is missed is a penalty: crest.loud, less 10 for each LU beyond 0.1 from the loudness
  and for each dB of true peak above the bound. It gets as many renders as ours took: passes, and excerpts in full
  passes.

Both are measured by the same meters. Each line: the seed; renders; of ours how many variants are on target and inside
the limit, of the other how many renders; the best crest.loud of those; the difference; seconds; how far the best of
each is from the target by pyloudnorm (De Man's filters).
"""

from __future__ import annotations

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyloudnorm
import soundfile

from sweeper import meter
from sweeper.audio.format import AudioFormat

TRACK = Path("/usr/share/games/singularity/music/Media Threat.ogg")
GOAL_LUFS, WITHIN_LU, PEAK_DBTP, PENALTY = -12.0, 0.1, -1.0, 10.0
LEAST_DRIVE_DB, MOST_DRIVE_DB = -12.0, 24.0
ATTACK_MS, RELEASE_MS, SHELF_HZ, SHELF_Q, CEILING_DB = 20.0, 150.0, 6000.0, 0.7, -1.3
#: What is in doubt, in its unit: lowest, highest, whether by octaves.
RANGES = {
    "glue.threshold db": (-40.0, -10.0, False), "glue.ratio": (1.2, 5.0, False), "colour.drive db": (0.0, 12.0, False),
    "air.gain db": (-3.0, 3.0, False), "limiter.release ms": (20.0, 500.0, True),
}  # fmt: skip
CHAIN = f"""
title: bench
mix: mix.wav
inserts:
  - name: glue
    plugin: builtin:Compressor
    settings: {{attack ms: {ATTACK_MS:g} ms, release ms: {RELEASE_MS:g} ms}}
  - {{name: colour, plugin: "builtin:Distortion"}}
  - name: air
    plugin: builtin:HighShelfFilter
    settings: {{cutoff frequency hz: {SHELF_HZ:g} Hz, q: {SHELF_Q:g}}}
output:
  - name: limiter
    plugin: builtin:BrickwallLimiter
    settings: {{ceiling db: {CEILING_DB:g} dB, true peak: on}}
    drive: raise input trim
vary:
  glue.threshold db: {{from: -40 dB, to: -10 dB}}
  glue.ratio: {{from: 1.2, to: 5}}
  colour.drive db: {{from: 0 dB, to: 12 dB}}
  air.gain db: {{from: -3 dB, to: 3 dB}}
  limiter.release ms: {{from: 20 ms, to: 500 ms, spacing: log}}
reach:
  - {{loudness: {GOAL_LUFS:g} LUFS, within: {WITHIN_LU:g} LU, by: limiter.drive}}
limits: [true peak <= {PEAK_DBTP:g} dBTP]
prefer: [crest.loud highest]
explore: {{variants: VARIANTS, seed: SEED}}
"""


@dataclass(frozen=True)
class Found:
    """What one way found. feasible: how many were on target and inside the limit. best: the highest crest.loud of them,
    None = there was none. off_lu: how far that one is from the target, by pyloudnorm."""

    renders: float
    feasible: int
    best: float | None
    off_lu: float | None
    wall_s: float


def ours(folder: Path, variants: int, seed: int) -> Found:
    """By `sweeper run`, with an empty store."""
    chain = folder / f"seed{seed}.chain.yaml"
    chain.write_text(CHAIN.replace("VARIANTS", str(variants)).replace("SEED", str(seed)))
    env = {**os.environ, "SWEEPER_STORE": str(folder / f"store{seed}")}
    command = [sys.executable, "-c", "from sweeper.cli.main import main; main()", "run", chain.name, "--workers", "1"]
    began = time.perf_counter()
    ran = subprocess.run([*command, "--json", "--quiet"], cwd=folder, env=env, stdout=subprocess.PIPE, check=False)
    wall_s = time.perf_counter() - began
    if ran.returncode not in (0, 1):
        raise SystemExit(f"sweeper run ended with {ran.returncode}")
    data = json.loads(ran.stdout)
    inside = [row for row in data["variants"] if row["status"] == "done" and feasible(row["measurements"])]
    renders = data["work"]["passes"] + data["work"]["excerpts"]
    if not inside:
        return Found(renders, 0, None, None, wall_s)
    best = max(inside, key=lambda row: row["measurements"]["crest_loud_db"])
    heard, rate_hz = soundfile.read(folder / data["run"] / best["files"]["render"])
    off_lu = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(heard) - GOAL_LUFS
    return Found(renders, len(inside), best["measurements"]["crest_loud_db"], off_lu, wall_s)


def feasible(measured: Any) -> bool:
    """On target and inside the limit."""
    on_target = abs(measured["loudness_lufs"] - GOAL_LUFS) <= WITHIN_LU
    return on_target and measured["true_peak_dbtp"] <= PEAK_DBTP


def stock(mix: Path, renders: int, seed: int) -> Found:
    """By a stock optimiser with so many renders."""
    import optuna

    optuna.logging.set_verbosity(optuna.logging.WARNING)
    began = time.perf_counter()
    audio, rate_hz = soundfile.read(mix, dtype="float32", always_2d=True)
    audio = np.ascontiguousarray(audio.T)
    study = optuna.create_study(direction="maximize", sampler=optuna.samplers.TPESampler(seed=seed))
    inside: list[float] = []
    best: np.ndarray | None = None
    for _ in range(renders):
        trial = study.ask()
        asked = {name: trial.suggest_float(name, low, high, log=log) for name, (low, high, log) in RANGES.items()}
        drive_db = trial.suggest_float("limiter.drive", LEAST_DRIVE_DB, MOST_DRIVE_DB)
        sound = through(audio, rate_hz, asked, drive_db)
        measured = meter.measure(sound, AudioFormat(sound.shape[0], rate_hz)).values
        study.tell(trial, worth(measured))
        if feasible(measured):
            inside.append(measured["crest_loud_db"])
            best = sound if measured["crest_loud_db"] == max(inside) else best
    wall_s = time.perf_counter() - began
    if best is None:
        return Found(renders, 0, None, None, wall_s)
    off_lu = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(best.T) - GOAL_LUFS
    return Found(renders, len(inside), max(inside), off_lu, wall_s)


def worth(measured: Any) -> float:
    """crest.loud less the penalties."""
    off_lu = max(0.0, abs(measured["loudness_lufs"] - GOAL_LUFS) - WITHIN_LU)
    above_db = max(0.0, measured["true_peak_dbtp"] - PEAK_DBTP)
    return float(measured["crest_loud_db"] - PENALTY * (off_lu + above_db))


def through(audio: np.ndarray, rate_hz: int, asked: dict[str, float], drive_db: float) -> np.ndarray:
    """The excerpt through the same effects. audio: (channels, frames)."""
    import pedalboard

    board = pedalboard.Pedalboard([
        pedalboard.Compressor(asked["glue.threshold db"], asked["glue.ratio"], ATTACK_MS, RELEASE_MS),
        pedalboard.Distortion(asked["colour.drive db"]),
        pedalboard.HighShelfFilter(SHELF_HZ, asked["air.gain db"], SHELF_Q),
        pedalboard.Gain(drive_db),
        pedalboard.BrickwallLimiter(ceiling_db=CEILING_DB, release_ms=asked["limiter.release ms"], true_peak=True),
    ])  # fmt: skip
    return np.asarray(board(audio, rate_hz, buffer_size=1024))


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--track", type=Path, default=TRACK)
    parser.add_argument("--from", type=float, default=60.0, dest="start")
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--variants", type=int, default=16)
    parser.add_argument("--seeds", type=int, default=2)
    given = parser.parse_args()
    print(f"{'':4}{'renders':>15}{'inside':>13}{'crest.loud dB':>17}{'':14}{'s':>14}{'off target, LU':>20}")
    print(f"{'seed':4}{'ours':>8}{'stock':>7}{'ours':>7}{'stock':>6}{'ours':>10}{'stock':>7}{'difference':>14}"
          f"{'ours':>8}{'stock':>6}{'ours':>12}{'stock':>8}", flush=True)  # fmt: skip
    ahead: list[float] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rate_hz = soundfile.info(given.track).samplerate
        audio, _ = soundfile.read(
            given.track, start=round(given.start * rate_hz), frames=round(given.seconds * rate_hz)
        )
        soundfile.write(folder / "mix.wav", audio, rate_hz, subtype="PCM_24")
        for seed in range(1, given.seeds + 1):
            mine = ours(folder, given.variants, seed)
            other = stock(folder / "mix.wav", math.ceil(mine.renders), seed)
            if mine.best is not None and other.best is not None:
                ahead.append(mine.best - other.best)
            print(_line(seed, mine, other), flush=True)
    if ahead:
        print(f"ours is ahead by {statistics.median(ahead):+.2f} dB in the median of {len(ahead)} of {given.seeds} "
              f"seeds, from {min(ahead):+.2f} to {max(ahead):+.2f}")  # fmt: skip


def _line(seed: int, mine: Found, other: Found) -> str:
    ahead = None if mine.best is None or other.best is None else mine.best - other.best
    return (f"{seed:4}{mine.renders:8.1f}{other.renders:7g}{mine.feasible:7}{other.feasible:6}"
            f"{_number(mine.best, '.2f'):>10}{_number(other.best, '.2f'):>7}{_number(ahead, '+.2f'):>14}"
            f"{mine.wall_s:8.0f}{other.wall_s:6.0f}"
            f"{_number(mine.off_lu, '+.3f'):>12}{_number(other.off_lu, '+.3f'):>8}")  # fmt: skip


def _number(value: float | None, form: str) -> str:
    return "none" if value is None else format(value, form)


if __name__ == "__main__":
    main()
