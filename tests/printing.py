"""A run's folder made by hand, with one variant that was kept: for tests of printing."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from recall_sheets import SHEET

from sweeper import meter
from sweeper.audio import BroadcastTag, WavWriter, inspect
from sweeper.audio.labels import Labels
from sweeper.audio.sample_hash import sample_hash
from sweeper.chain.print_model import Edits
from sweeper.chain.print_specs import find_spec
from sweeper.delivery.ceiling import Over
from sweeper.delivery.delivering import Asked
from sweeper.delivery.kept import Kept, ceiling_of, find_kept

RATE_HZ = 48000
NOW = datetime(2026, 11, 24, 18, 5, 9)
#: What the sheet tells of how the variant was solved.
SOLVED = {"measurement": "true_peak_dbtp", "goal": -1.0, "setting": "limiter.ceiling"}


def music(seconds: float = 2.0, level: float = 0.8) -> np.ndarray:
    """Noise in beats, float32, (2, frames)."""
    rng = np.random.default_rng(1)
    frames = round(seconds * RATE_HZ)
    beat = np.exp(-((np.arange(frames) % 24000) / 6000)) + 0.05
    samples = rng.standard_normal((2, frames)) * beat
    return (np.tanh(samples) * level).astype(np.float32)


def run_with(folder: Path, samples: np.ndarray, id: str = "004", reach: Sequence[Any] = (SOLVED,),
             name: str = "2026-11-24-lantern", sheet_id: str = SHEET.id, rate_hz: int = RATE_HZ) -> Path:  # fmt: skip
    """A folder with the sheet and the render of one variant, as `sweeper recall` leaves it."""
    run = folder / "results" / name
    place = run / "variants" / id
    place.mkdir(parents=True)
    with WavWriter(place / "render.wav", len(samples), rate_hz) as writer:
        writer.write(samples)
        writer.commit(BroadcastTag(sheet_id, "2026-11-24", "18:05:09"))
    file = inspect(place / "render.wav")
    measured = meter.measure(samples, file.format).as_data()
    sheet = replace(SHEET, id=sheet_id, variant=id, audio_sha256=sample_hash(file), reach=tuple(reach),
                    measurements=measured, source=replace(SHEET.source, rate_hz=rate_hz))  # fmt: skip
    (place / "recall.json").write_text(json.dumps(sheet.as_data()))
    return run


def kept_in(run: Path, id: str = "004") -> Kept:
    """The variant."""
    return find_kept(run, id)


def asked(kept: Kept, *specs: str, **more: Any) -> Asked:
    """Print those specs, with a title."""
    labels = Labels("", "Lantern Bay", "The Pilots", "XXXXX2600001")
    usual = Asked(tuple(find_spec(spec, Path()) for spec in specs), labels,
                  kept.sheet.title, Edits(), ceiling_of(kept), Over.TRIM, None, None, NOW)  # fmt: skip
    return replace(usual, **more)
