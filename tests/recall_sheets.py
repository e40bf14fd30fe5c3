"""Recall sheets made by hand, and real ones made by rendering in a worker, for the tests of recall."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from plugin_fixtures import done
from whole_runs import mix

from sweeper.audio import audio_hash, inspect
from sweeper.host.setup import StageSetup
from sweeper.quantities import Measurements
from sweeper.recall.rendering import job_of
from sweeper.records import Applied, Sheet, Source, StageRecord
from sweeper.render.folder import RunFolder
from sweeper.render.job import Rendered
from sweeper.render.jobs import mix_file, tag_of
from sweeper.render.orders import Measured
from sweeper.render.sheets import sheet_of
from sweeper.workers import Pool

THRESHOLD = Applied("Threshold", 2, "", "-7.1 dB", 0.7634603977203369, "-7.096188")
CEILING = Applied("Output Ceiling", 1, "", "-1 dB", 0.9666666388511658, "-1.000001")
RELEASE = Applied("Release", 0, "", "", 0.24242424964904785, "25.000000")
LIMITER = StageRecord(
    "limiter", "ZaMaximX2", "/usr/lib/vst3/ZaMaximX2.vst3", "Damien Zammit", "4.1.0", "VST3-1", "a" * 64, "", "",
    "stereo", False, 0.0, -0.35, 480, (THRESHOLD, CEILING), (RELEASE,), output=True,
)  # fmt: skip
SOURCE = Source("/music/mix.wav", "b" * 64, 2, 44100, 44100)
SHEET = Sheet(
    "0123456789abcdef01234567", "Lantern", "004", SOURCE, (LIMITER,), 1024, "c" * 64,
    {"loudness_lufs": -10.02, "true_peak_dbtp": None, "reasons": {"true_peak_dbtp": "silence"}},
    ({"measurement": "loudness_lufs", "at": -7.1},), ("a note",), {"sweeper": "0.1.0", "numpy": "2.1.0"},
    3, 1.5, "2026-11-24T18:05:09",
)  # fmt: skip


def copied(made: Path, target: Path) -> Path:
    """A folder with what was rendered in it, copied: its sheets lead to where it lies now. Returns `target`."""
    shutil.copytree(made, target, dirs_exist_ok=True, symlinks=True)
    for sheet in target.glob("results/*/variants/*/recall.json"):
        sheet.write_text(sheet.read_text("utf-8").replace(str(made), str(target)), "utf-8")
    return target


def rendered(pool: Pool, folder: Path, *stages: StageSetup, seconds: float = 1.0) -> Path:
    """A run folder in folder/results with one variant rendered through the stages; its sheet's path."""
    music = folder / "mix.wav"
    file = inspect(music if music.exists() else mix(music, seconds))
    measured = Measured(file, Measurements({}), audio_hash(file))
    now = datetime(2026, 11, 24, 18, 5, 9)
    with RunFolder.create(folder / "results", "lantern", now) as run:
        for stage in stages:
            if stage.state is not None:
                run.keep(stage.state, "states")
        sheet = replace(SHEET, title="Lantern", stages=())
        target = run.variant(sheet.variant) / "render.wav"
        job = job_of(sheet, stages, mix_file(measured), target, tag_of(run.path, sheet.variant, now), now, 60.0)
        job = replace(job, parent="")
        made = done(pool, "sweeper.render.task:render_variant", job)
        assert isinstance(made, Rendered)
        return run.write_json(f"variants/{job.variant}/recall.json", sheet_of(job, made).as_data())
