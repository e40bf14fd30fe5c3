"""What workers do for `reach_passes.py` and `reach_three.py`: a track through real limiters, solved in some ways."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import pyloudnorm
import soundfile

from sweeper import meter
from sweeper.audio import BroadcastTag, WavWriter, audio_hash, blocks, inspect
from sweeper.chain.model import Channels, Number, Switch
from sweeper.host.setup import Dialled, StageSetup
from sweeper.plan.reach import Direction
from sweeper.records import Source
from sweeper.render import task
from sweeper.render.job import GoalOrder, Job, Look, MixFile, ReachOrder, Rendered, Taught, stamp_of
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_BLOCK_FRAMES
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
    """One track, as a WAV, through one limiter, to be made louder by so much. folder: where renders go."""

    limiter: Limiter
    track: Path
    louder_lu: float
    folder: Path


def cut(track: Path, seconds: float, target: Path) -> Path:
    """The first seconds of a track as a WAV of 32-bit float."""
    sound = inspect(track)
    frames = min(sound.frames, round(seconds * sound.format.rate_hz))
    with WavWriter(target, sound.format.channels, sound.format.rate_hz, lasting=False) as writer:
        for block in blocks(sound, FILE_BLOCK_FRAMES, 0, frames):
            writer.write(block)
        writer.commit(BroadcastTag("", "", ""))
    return target


def goal_lufs(case: Case, report: Report) -> float:
    """Where the case is to land: so much louder than the track is."""
    loudness = meter.finish(metered(inspect(case.track), {}, report))["loudness_lufs"]
    assert loudness is not None
    return round(loudness + case.louder_lu, 2)


def passes(case: Case, report: Report) -> dict[str, Rendered]:
    """Solve a case in four ways. Runs in a worker."""
    limiter = case.limiter
    loud = ReachOrder(0, limiter.drive, "", limiter.way,
                      (GoalOrder("loudness_lufs", goal_lufs(case, report), 1, 0.1, False, "loudness"),))  # fmt: skip
    peak = ReachOrder(0, limiter.ceiling, "", Direction.UNKNOWN,
                      (GoalOrder("true_peak_dbtp", -1.0, 1, 0.1, True, "true peak"),))  # fmt: skip
    found = {
        "loudness": solved(case, limiter.setup, (loud,), report),
        "peak": solved(case, limiter.setup, (peak,), report),
        "both": solved(case, limiter.setup, (loud, peak), report),
    }
    taught = tuple(replace(order, taught=Taught(s.at, s.slope, s.beyond))
                   for order, s in zip((loud, peak), found["both"].solved, strict=True))  # fmt: skip
    return found | {"taught": solved(case, limiter.released, taught, report)}


#: Chains of `three`: what stands before the limiter, and whose attenuation is met, by the limiter's or its own trim.
THREE = {
    "compressor": (StageSetup("before", "builtin:Compressor", None, Channels.STEREO, (
        Dialled("threshold db", "", Number(-24, "dB", "-24 dB")), Dialled("ratio", "", Number(2, "", "2")))), "before"),
    "clipper": (StageSetup("before", "builtin:Clipping", None, Channels.STEREO, (
        Dialled("threshold db", "", Number(-6, "dB", "-6 dB")),)), "limiter"),
}  # fmt: skip


def three(order: tuple[str, Case, bool], report: Report) -> dict[str, Rendered]:
    """Solve a case for loudness, true peak and attenuation, with excerpts and, if wanted, without. Runs in a worker."""
    chain, case, excerpts_only = order
    before, attenuates = THREE[chain]
    limiter = case.limiter
    number = ("before", "limiter").index(attenuates)
    loud = GoalOrder("loudness_lufs", goal_lufs(case, report), 1, 0.1, False, "loudness")
    by = (1, limiter.drive, limiter.way) if attenuates == "before" else (0, "input trim", Direction.RAISE)
    orders = (
        ReachOrder(by[0], by[1], "", by[2], (loud,)),
        ReachOrder(1, limiter.ceiling, "", Direction.UNKNOWN, (
            GoalOrder("true_peak_dbtp", -1.0, 1, 0.1, True, "true peak"),)),
        ReachOrder(number, "input trim", "", Direction.RAISE, (
            GoalOrder(f"{attenuates}.attenuation_db", 2.0 + number, 1, 0.1, False, "attenuation"),), measured=number),
    )  # fmt: skip
    look = Look(number, music=True, tone=False)
    job = replace(job_of(case, limiter.setup, orders), stages=(before, limiter.setup), looks=(look,),
                  looks_each_pass=(look,))  # fmt: skip
    found = {"with excerpts": rendered(job, report)}
    if not excerpts_only:
        worth, task.worth_rehearsing = task.worth_rehearsing, lambda job, room: False
        try:
            found["without"] = rendered(job, report)
        finally:
            task.worth_rehearsing = worth
    return found


def solved(case: Case, setup: StageSetup, orders: tuple[ReachOrder, ...], report: Report) -> Rendered:
    """One variant, rendered as a run does."""
    return rendered(job_of(case, setup, orders), report)


def rendered(job: Job, report: Report) -> Rendered:
    """A job, as a run renders it. Raises AssertionError where pyloudnorm does not agree with its loudness."""
    made = task.render_variant(job, report)
    heard, rate_hz = soundfile.read(job.target)
    outside = pyloudnorm.Meter(rate_hz).integrated_loudness(heard)
    for one in made.solved:
        if one.key == "loudness_lufs" and one.value is not None and abs(outside - one.value) > 0.05:
            raise AssertionError(f"{one.value} LUFS was reported, pyloudnorm measures {outside}")
    job.target.unlink()
    return made


def job_of(case: Case, setup: StageSetup, orders: tuple[ReachOrder, ...]) -> Job:
    """One variant of a case, as a worker of a run gets it."""
    sound = inspect(case.track)
    source = Source(str(case.track), audio_hash(sound), sound.format.channels, sound.format.rate_hz, sound.frames)
    return Job("001", "bench", MixFile(source, stamp_of(case.track)), {}, (setup,), orders, case.folder / "render.wav",
               "0" * 24, "2000-01-01", "00:00:00", 600.0)  # fmt: skip
