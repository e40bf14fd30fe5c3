"""Whether stages repeat themselves: the same sound through the same stages once more. Runs in workers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from sweeper.audio import AudioFormat, SoundFile, blocks, inspect
from sweeper.host.setup import StageSetup, grouped, loading
from sweeper.host.stage import HostedStage
from sweeper.meter.loudest import loudest_start, powers_of
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import placed
from sweeper.render.trial import rendered_alone
from sweeper.render.trial_orders import Residual, TwiceOrder
from sweeper.units import level_db
from sweeper.workers import Report

#: What a stage of that number makes of a sound.
Process = Callable[[int, np.ndarray], np.ndarray]
WHOLE = "whole"


def render_twice(order: TwiceOrder, report: Report) -> tuple[Residual, ...]:
    """What differs from the earlier render: for each stage, on the input that it had then; and last for the chain.

    Raises AudioFileError, PluginError, SettingError or StateError.
    """
    report.phase("reading the mix", FILE_PATIENCE_S)
    file = inspect(order.mix)
    sound = _loudest(file, order.duration_s)
    stages = [_hosted(setup, file, order, report) for setup in order.stages]
    report.phase("rendering a stretch of the mix", order.patience_s)

    def process(number: int, went_in: np.ndarray) -> np.ndarray:
        with placed(order.stages[number]):
            return rendered_alone(stages[number], went_in, order.block_frames, report)

    if not any(order.folder.iterdir()):
        _keep(order.stages, sound, process, order.folder)
    return _compared(order.stages, sound, process, order.folder)


def _hosted(setup: StageSetup, file: SoundFile, order: TwiceOrder, report: Report) -> HostedStage:
    report.phase(loading(setup), order.patience_s)
    with placed(setup):
        format = AudioFormat(file.format.channels, file.format.rate_hz)
        return HostedStage(replace(setup, bus=""), format, order.block_frames, report.beat)  # buses are summed here


def _loudest(file: SoundFile, duration_s: float) -> np.ndarray:
    """The loudest stretch of so many seconds, by its power, in steps of a second; (channels, frames) float32."""
    rate_hz = file.format.rate_hz
    first = loudest_start(powers_of(blocks(file, rate_hz)), max(1, round(duration_s))) * rate_hz
    parts = list(blocks(file, rate_hz, first, min(file.frames, first + round(duration_s * rate_hz))))
    return np.concatenate(parts, axis=1).astype(np.float32)


def _through(setups: Sequence[StageSetup], sound: np.ndarray, process: Process) -> np.ndarray:
    """A sound through all stages, the outputs of the buses added to what feeds them."""
    for numbers in grouped(setups):
        if not setups[numbers[0]].bus:
            sound = process(numbers[0], sound)
            continue
        parts = dict.fromkeys((setups[number].bus for number in numbers), sound)
        for number in numbers:
            parts[setups[number].bus] = process(number, parts[setups[number].bus])
        sound = np.sum([sound, *parts.values()], axis=0)
    return sound


def _keep(setups: Sequence[StageSetup], sound: np.ndarray, process: Process, folder: Path) -> None:
    def kept(number: int, went_in: np.ndarray) -> np.ndarray:
        came_out = process(number, went_in)
        np.save(_place(folder, number, "in"), went_in)
        np.save(_place(folder, number, "out"), came_out)
        return came_out

    np.save(_place(folder, WHOLE, "out"), _through(setups, sound, kept))


def _compared(setups: Sequence[StageSetup], sound: np.ndarray, process: Process,
              folder: Path) -> tuple[Residual, ...]:  # fmt: skip
    found: dict[int, Residual] = {}

    def compared(number: int, went_in: np.ndarray) -> np.ndarray:
        before = np.load(_place(folder, number, "in"))
        alone = process(number, before)
        found[number] = residual(np.load(_place(folder, number, "out")), alone)
        return alone if np.array_equal(before, went_in) else process(number, went_in)

    whole = _through(setups, sound, compared)
    return (*(found[number] for number in sorted(found)), residual(np.load(_place(folder, WHOLE, "out")), whole))


def residual(before: np.ndarray, now: np.ndarray) -> Residual:
    """What is left when one render is taken from another; (channels, frames) each."""
    left = now.astype(np.float64) - before
    peak = float(np.abs(left).max())
    if not peak:
        return Residual(None, None)
    sound = float(np.sqrt(np.mean(np.square(before, dtype=np.float64))))
    return Residual(level_db(peak), level_db(float(np.sqrt(np.mean(left**2))) / sound) if sound else None)


def _place(folder: Path, stage: int | str, which: str) -> Path:
    return folder / f"{stage}-{which}.npy"
