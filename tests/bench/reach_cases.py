"""What workers do for `reach_passes.py`: a track through a real limiter, solved in four ways."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyloudnorm

from sweeper import meter
from sweeper.audio import AudioFormat, blocks, inspect
from sweeper.chain.model import Channels, Number, Switch
from sweeper.host.knob import Knob
from sweeper.host.setup import Dialled, StageSetup
from sweeper.host.stage import HostedStage
from sweeper.plan.reach import Direction
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, ReachOrder, Solved, Taught
from sweeper.render.solve import solve
from sweeper.render.stream import render
from sweeper.workers import Report


@dataclass(frozen=True)
class Limiter:
    """A limiter and the names of what is turned. released: the same with another release."""

    name: str
    setup: StageSetup
    drive: str
    way: Direction
    ceiling: str
    released: StageSetup


def _limiter(name: str, path: str, drive: str, way: Direction, ceiling: str, release: str, *own: Dialled) -> Limiter:
    def setup(release_ms: float) -> StageSetup:
        dialled = Dialled(release, "", Number(release_ms, "ms", f"{release_ms:g} ms"))
        return StageSetup("limiter", path, None, Channels.STEREO, (*own, dialled))

    return Limiter(name, setup(50), drive, way, ceiling, setup(90))


LIMITERS = (
    _limiter("threshold", "/usr/lib/vst3/ZaMaximX2.vst3", "Threshold", Direction.LOWER, "Output Ceiling", "Release"),
    _limiter("sample peak", "builtin:BrickwallLimiter", "input trim", Direction.RAISE, "ceiling db", "release ms",
             Dialled("true peak", "", Switch(False, "off"))),
    _limiter("true peak", "builtin:BrickwallLimiter", "input trim", Direction.RAISE, "ceiling db", "release ms",
             Dialled("true peak", "", Switch(True, "on"))),
)  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One track through one limiter, to be made louder by so much."""

    limiter: Limiter
    track: Path
    louder_lu: float
    seconds: float


def passes(case: Case, report: Report) -> dict[str, tuple[Solved, ...]]:
    """Solve a case in four ways. Runs in a worker; every render is of the track's first `seconds`."""
    report.phase("solving", 600)
    limiter = case.limiter
    goal_lufs = round(_loudness(case) + case.louder_lu, 2)
    loud = ReachOrder(0, limiter.drive, "", limiter.way,
                      (GoalOrder("loudness_lufs", goal_lufs, 1, 0.1, False, "loudness"),))  # fmt: skip
    peak = ReachOrder(0, limiter.ceiling, "", Direction.UNKNOWN,
                      (GoalOrder("true_peak_dbtp", -1.0, 1, 0.1, True, "true peak"),))  # fmt: skip
    found = {
        "loudness": _solved(case, limiter.setup, (loud,), report),
        "peak": _solved(case, limiter.setup, (peak,), report),
        "both": _solved(case, limiter.setup, (loud, peak), report),
    }
    taught = tuple(
        replace(order, taught=Taught(s.at, s.slope)) for order, s in zip((loud, peak), found["both"], strict=True)
    )
    return found | {"taught": _solved(case, limiter.released, taught, report)}


def _loudness(case: Case) -> float:
    """Of the track's first seconds as they are, LUFS."""
    sound = inspect(case.track)
    panel = meter.start(AudioFormat(sound.format.channels, sound.format.rate_hz), {})
    for block in blocks(sound, 43 * 1024, 0, min(sound.frames, round(case.seconds * sound.format.rate_hz))):
        panel = meter.advance(panel, block)
    loudness = meter.finish(panel)["loudness_lufs"]
    assert loudness is not None
    return loudness


def _solved(case: Case, setup: StageSetup, orders: tuple[ReachOrder, ...], report: Report) -> tuple[Solved, ...]:
    sound = inspect(case.track)
    frames = min(sound.frames, round(case.seconds * sound.format.rate_hz))
    format = AudioFormat(sound.format.channels, sound.format.rate_hz)
    stage = HostedStage(setup, format, 1024)
    last: list[np.ndarray] = []

    def once() -> Measurements:
        last.clear()
        panel = meter.start(format, {})

        def sink(block: np.ndarray) -> None:
            nonlocal panel
            panel = meter.advance(panel, block)
            last.append(block)

        render([stage], blocks(sound, 43 * 1024, 0, frames), frames, 1024, sink, lambda stage, at_s: report.beat())
        return meter.finish(panel)

    solved = solve(orders, [Knob(stage, order.setting, "") for order in orders], once)
    outside = pyloudnorm.Meter(format.rate_hz).integrated_loudness(np.concatenate(last, axis=1).T.astype(np.float64))
    for one in solved:
        if one.key == "loudness_lufs" and one.value is not None and abs(outside - one.value) > 0.05:
            raise AssertionError(f"{one.value} LUFS was reported, pyloudnorm measures {outside}")
    return solved
