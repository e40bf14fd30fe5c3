"""Short ways to make mixes and chain files and to run the command line, for tests of whole runs."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from plugin_builder import read_witness


def mix(path: Path, seconds: float = 6.0, rate_hz: int = 44100, seed: int = 1, channels: int = 2) -> Path:
    """A mix of noise with beats, about -20 LUFS, correlated between the channels; 24-bit WAV."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * rate_hz)
    beat = np.exp(-((np.arange(frames) % (rate_hz // 2)) / (0.08 * rate_hz))) + 0.4
    centre = rng.standard_normal(frames)
    samples = np.stack([centre + 0.4 * rng.standard_normal(frames) for _ in range(channels)], axis=1)
    samples = samples * beat[:, None] * 0.1
    soundfile.write(path, np.clip(samples, -0.95, 0.95), rate_hz, subtype="PCM_24")
    return path


@dataclass(frozen=True)
class Ran:
    """What a command left: its exit code and what it said."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> dict[str, Any]:
        """stdout as JSON."""
        parsed: dict[str, Any] = json.loads(self.out)
        return parsed


def sweeper(*arguments: object, cwd: Path, plugins: Path | None = None, timeout_s: float = 120, **env: str) -> Ran:
    """Run the sweeper command as a user would, in its own process."""
    extra = {"SWEEPER_PLUGIN_PATH": str(plugins)} if plugins else {}
    done = subprocess.run(
        [sys.executable, "-c", "from sweeper.cli.main import main; main()", *map(str, arguments)],
        cwd=cwd, capture_output=True, text=True, timeout=timeout_s, env={**os.environ, **extra, **env}, check=False,
    )  # fmt: skip
    return Ran(done.returncode, done.stdout, done.stderr)


def chain_file(folder: Path, text: str, name: str = "test.chain.yaml") -> Path:
    """Write a chain file."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def samples(path: Path) -> np.ndarray:
    """A file's samples, (channels, frames), float32, by libsndfile."""
    data, _ = soundfile.read(path, dtype="float32", always_2d=True)
    return np.ascontiguousarray(data.T)


def outside_lufs(path: Path) -> float:
    """Integrated loudness by pyloudnorm (De Man's filters)."""
    import pyloudnorm

    data, rate_hz = soundfile.read(path, always_2d=True)
    return float(pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(data))


def renders_seen(witness: Path, frames: int) -> int:
    """Full renders of a mix of so many frames that went through witnesses: instances that were given them all."""
    run: Counter[tuple[int, int]] = Counter()
    renders = 0
    for seen in read_witness(witness):
        if seen.event == "run":
            run[(seen.pid, seen.instance)] += seen.frames
        elif seen.event in ("activate", "destruct"):
            renders += run.pop((seen.pid, seen.instance), 0) >= frames
    return renders + sum(each >= frames for each in run.values())
