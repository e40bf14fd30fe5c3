"""A sweep of 27 variants on real music against the plain script that an engineer who programs would write for it.

    python tests/bench/sweep_against_script.py [--seconds N] [--track FILE] [--values 3]

The chain: mono EQ left and right, stereo compressor, tube on the mid, a witness that counts, look-ahead limiter; three
settings each of EQ, compressor and tube (--values 2: the first two of each, eight variants); loudness by the limiter's
threshold, true peak by its ceiling. The script: one process, the whole file at a time, every variant from the mix,
pedalboard with pyloudnorm and a fourfold polyphase true peak, a secant on the threshold and a correction of the ceiling
until both are met. `steps` tells how often a stage was rendered: by us, the witness counted in, and by the script.
Needs the tests' packages.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).parents[1]))
from plugin_builder import build, read_witness

TRACK = Path("/usr/share/scummvm/drascula/audio/track5.ogg")
GOAL_LUFS, CEILING_DBTP = -12.0, -1.0
EQ_DB, RATIOS, TUBE = (-1.0, 0.0, 1.0), (1.5, 2.0, 3.0), (1.0, 3.0, 5.0)
SCRIPT_STAGES = 4
CHAIN = f"""
title: bench
mix: mix.wav
inserts:
  - {{name: eq, plugin: ZamEQ2, channels: left/right}}
  - {{name: glue, plugin: ZamCompX2, settings: {{Threshold: -20 dB}}}}
  - {{name: tube, plugin: ZamTube, channels: mid}}
  - {{name: count, plugin: Probe Witness}}
output:
  - {{name: limiter, plugin: ZaMaximX2, drive: lower Threshold, ceiling: Output Ceiling}}
vary:
  eq.Boost/Cut 1: [EQ]
  glue.Ratio: [RATIOS]
  tube.Tube Drive: [TUBE]
reach:
  - {{loudness: {GOAL_LUFS:g} LUFS, within: 0.1 LU, by: limiter.drive}}
  - {{true peak: at most {CEILING_DBTP:g} dBTP, within: 0.1 dB, by: limiter.ceiling}}
"""
VST3 = "/usr/lib/vst3/{}.vst3"


def chain_text(values: int) -> str:
    """The chain file with the first so many values of each setting."""
    lists = {"EQ": [f"{v:g} dB" for v in EQ_DB], "RATIOS": [f"{v:g}" for v in RATIOS], "TUBE": [f"{v:g}" for v in TUBE]}
    text = CHAIN
    for name, written in lists.items():
        text = text.replace(f"[{name}]", f"[{', '.join(written[:values])}]")
    return text


def plain_script(mix: Path, out: Path, values: int) -> dict[str, float]:
    """The variants one after another. Returns what it took."""
    import pedalboard
    import pyloudnorm
    from scipy.signal import resample_poly

    audio, rate_hz = soundfile.read(mix, dtype="float32", always_2d=True)
    audio = np.ascontiguousarray(audio.T)
    meter = pyloudnorm.Meter(rate_hz)
    inside_s = 0.0
    passes = []

    def through(plugin: object, block: np.ndarray) -> np.ndarray:
        nonlocal inside_s
        began = time.perf_counter()
        done = plugin.process(block, rate_hz, buffer_size=1024)  # type: ignore[attr-defined]
        inside_s += time.perf_counter() - began
        return np.asarray(done)

    began = time.perf_counter()
    settings = itertools.product(EQ_DB[:values], RATIOS[:values], TUBE[:values])
    for number, (eq_db, ratio, drive) in enumerate(settings):
        threshold_db, ceiling_db, slope, last = 0.0, 0.0, -1.0, None
        for count in range(1, 20):  # noqa: B007 - read after the loop
            sides = []
            for side in audio:
                eq = pedalboard.load_plugin(VST3.format("ZamEQ2"))
                eq.boost_cut_1_db = eq_db
                sides.append(through(eq, side[None, :]))
            glue = pedalboard.load_plugin(VST3.format("ZamCompX2"))
            glue.threshold_db, glue.ratio = -20.0, ratio
            sound = through(glue, np.concatenate(sides))
            mid, side = (sound[0] + sound[1]) / 2, (sound[0] - sound[1]) / 2
            tube = pedalboard.load_plugin(VST3.format("ZamTube"))
            tube.tube_drive = drive
            mid = through(tube, mid[None, :].astype(np.float32))[0]
            sound = np.stack([mid + side, mid - side]).astype(np.float32)
            limiter = pedalboard.load_plugin(VST3.format("ZaMaximX2"))
            limiter.threshold_db, limiter.output_ceiling_db = threshold_db, ceiling_db
            sound = through(limiter, sound)
            loudness = meter.integrated_loudness(sound.T)
            peak = 20 * np.log10(max(np.abs(resample_poly(channel, 4, 1)).max() for channel in sound))
            if abs(loudness - GOAL_LUFS) <= 0.1 and CEILING_DBTP - 0.1 <= peak <= CEILING_DBTP:
                break
            if last is not None and threshold_db != last[0]:
                slope = min(-0.1, (loudness - last[1]) / (threshold_db - last[0]))
            last = (threshold_db, loudness)
            moved_db = CEILING_DBTP - 0.05 - peak
            ceiling_db = min(0.0, max(-30.0, ceiling_db + moved_db))
            threshold_db = min(0.0, max(-30.0, threshold_db + (GOAL_LUFS - loudness - moved_db) / slope))
        passes.append(count)
        soundfile.write(out / f"{number:02d}.wav", sound.T, rate_hz, subtype="FLOAT")
    wall_s = time.perf_counter() - began
    return {"wall_s": wall_s, "plugin_s": inside_s, "passes_median": float(np.median(passes)),
            "passes_worst": max(passes), "passes_sum": sum(passes)}  # fmt: skip


def ours(folder: Path, workers: int, values: int) -> dict[str, Any]:
    """The same by `sweeper run`, with an empty store."""
    build("witness", folder / "plugins")
    (folder / "bench.chain.yaml").write_text(chain_text(values))
    env = {**os.environ, "SWEEPER_PLUGIN_PATH": str(folder / "plugins"), "SWEEPER_STORE": str(folder / "store"),
           "SWEEPER_WITNESS": str(folder / "witness")}  # fmt: skip
    sweeper = [sys.executable, "-c", "from sweeper.cli.main import main; main()"]
    checked = json.loads(subprocess.run([*sweeper, "check", "bench.chain.yaml", "--json", "--workers", str(workers)],
                                        cwd=folder, env=env, check=True, capture_output=True).stdout)  # fmt: skip
    (folder / "witness").unlink(missing_ok=True)
    began = time.perf_counter()
    ran = subprocess.run([*sweeper, "run", "bench.chain.yaml", "--json", "--workers", str(workers)],
                         cwd=folder, env=env, check=True, capture_output=True)  # fmt: skip
    wall_s = time.perf_counter() - began
    data = json.loads(ran.stdout)
    frames = soundfile.info(folder / "mix.wav").frames
    seen: Counter[tuple[int, int]] = Counter()
    for event in read_witness(folder / "witness"):
        if event.event == "run":
            seen[(event.pid, event.instance)] += event.frames
    passes = [variant["passes"] for variant in data["variants"]]
    values = [(v["measurements"]["loudness_lufs"], v["measurements"]["true_peak_dbtp"]) for v in data["variants"]]
    return {
        "wall_s": wall_s, "work": data["work"], "checked": checked, "run": str(folder / data["run"]),
        "witness_renders": sum(count >= frames for count in seen.values()), "passes_median": float(np.median(passes)),
        "passes_worst": max(passes), "passes_sum": sum(passes),
        "loudness": (min(v[0] for v in values), max(v[0] for v in values)),
        "true_peak": (min(v[1] for v in values), max(v[1] for v in values)),
        "endings": dict(Counter(reach["ending"] for v in data["variants"] for reach in v["reach"])),
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--track", type=Path, default=TRACK)
    parser.add_argument("--seconds", type=float, default=None, help="only so much of the track")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--values", type=int, default=3, choices=(1, 2, 3), help="of each setting")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        audio, rate_hz = soundfile.read(asked.track, always_2d=True)
        audio = audio if asked.seconds is None else audio[: round(asked.seconds * rate_hz)]
        soundfile.write(folder / "mix.wav", audio, rate_hz, subtype="PCM_24")
        mine = ours(folder, asked.workers, asked.values)
        (folder / "plain").mkdir()
        plain = plain_script(folder / "mix.wav", folder / "plain", asked.values)
    work = mine["work"]
    steps = {"ours": work["steps_done"], "ours_foretold": work["steps_predicted"],
             "ours_without_sharing": work["steps_unshared"],
             "plain": SCRIPT_STAGES * int(plain["passes_sum"])}  # fmt: skip
    ratio = plain["wall_s"] / mine["wall_s"]
    print(json.dumps({"ours": mine, "plain": plain, "steps": steps, "ratio": ratio}, indent=2))


if __name__ == "__main__":
    main()
