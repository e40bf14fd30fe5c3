"""Folders of runs made by hand, with sound, for tests of the audition: nothing is rendered and no plugin is loaded."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from invented_rows import limits, loudness_solved, row
from recall_sheets import SHEET
from scipy.signal import lfilter

from sweeper import meter
from sweeper.audio import AudioFormat, audio_hash, inspect
from sweeper.quantities import Measurements
from sweeper.table.data import csv_text, row_data
from sweeper.table.row import Row

#: What must not come into anything that is sent on: a plugin, a stage, a setting, a note of the run, a folder.
PRIVATE = ("Velvet Glue", "glue", "limiter", "Threshold", "bites too early", "studio-b")
CHAIN = """title: Tin Boats
mix: {file: mix.wav, sections: {verse: "0:00-0:02", chorus: "0:02-0:04"}}
references: [old record.wav]
inserts: [{name: glue, plugin: Velvet Glue, settings: {Threshold: -20 dB}}]
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
vary: {glue.Threshold: [-1 dB, -2 dB, -3 dB]}
reach: [{loudness: -10 LUFS, by: limiter.drive}]
prefer: [crest.loud highest]
"""
SECONDS = 4.0


def page(folder: Path) -> Path:
    """Parts of a page that does nothing, for tests of how they are joined."""
    folder.mkdir()
    (folder / "page.html").write_text("<!doctype html><title>a page</title>\n<!--style--><!--data-->"
                                      "<!--worklet--><!--script-->\n")  # fmt: skip
    (folder / "order.txt").write_text("first.js\nsecond.js\n")
    for name, text in (("first.js", "const FIRST = 1;"), ("second.js", "const SECOND = FIRST + 1;"),
                       ("worklet.js", "// plays"), ("look.css", "body { margin: 0 }")):  # fmt: skip
        (folder / name).write_text(text)
    return folder


def made_run(folder: Path, rate_hz: int = 44100) -> Path:
    """A finished run with three variants of one mix and a reference of another rate; its folder.

    The variants are the mix 6, 9 and 12 dB louder, 002 duller, 003 with its peaks rounded off and half a second longer.
    """
    studio = folder / "studio-b"
    (studio / "run" / "mixes").mkdir(parents=True)
    music = _music(SECONDS, rate_hz, 5).astype(np.float32)
    soundfile.write(studio / "mix.wav", music.T, rate_hz, subtype="PCM_24")
    other = _music(3.0, 48000, 6)
    soundfile.write(studio / "old record.wav", other.T, 48000, subtype="PCM_24")
    dull = (music + np.roll(music, 1, axis=1)) / 2
    rounded = np.tanh(np.pad(4 * music, ((0, 0), (0, rate_hz // 2))))
    rows = [_variant(studio / "run", id, sound, rate_hz, rank)
            for id, sound, rank in (("001", 2 * music, 2), ("002", 2.8 * dull, 1), ("003", rounded, 3))]  # fmt: skip
    (studio / "test.chain.yaml").write_text(CHAIN)
    _write_ledger(studio, rows)
    return studio / "run"


def copied(run: Path, folder: Path) -> Path:
    """A copy of a run that `made_run` made, with its mix and reference, in another folder; without what was heard."""
    shutil.copytree(run.parent, folder / run.parent.name, ignore=shutil.ignore_patterns("audition"))
    other = folder / run.parent.name / run.name
    ledger = (other / "run.json").read_text().replace(str(run.parent), str(other.parent))
    (other / "run.json").write_text(ledger)
    return other


def _music(seconds: float, rate_hz: int, seed: int) -> np.ndarray:
    """Noise that swells by 6 dB, then half a second of silence, as records end: no more of it changes the loudness."""
    frames = round((seconds - 0.5) * rate_hz)
    random = np.random.default_rng(seed)
    shared, own = random.standard_normal(frames), random.standard_normal((2, frames))
    tilted = lfilter([1.0], [1.0, -0.9], shared + 0.5 * own, axis=1)
    swell = 10 ** (0.15 * np.sin(2 * np.pi * 1.3 * np.arange(frames) / rate_hz))
    return np.pad(0.03 * swell * tilted, ((0, 0), (0, rate_hz // 2)))


def _variant(run: Path, id: str, sound: np.ndarray, rate_hz: int, rank: int) -> Row:
    place = run / "variants" / id
    place.mkdir(parents=True)
    soundfile.write(place / "render.wav", sound.T, rate_hz, subtype="FLOAT")
    file = inspect(place / "render.wav")
    found = _measured(sound, rate_hz)
    found = replace(found, values={**found.values, "limiter.attenuation_db": 2.5, "attenuation_db": 3.0})
    sheet = replace(SHEET, id=f"{id}" * 8, variant=id, audio_sha256=audio_hash(file), measurements=found.as_data(),
                    reach=())  # fmt: skip
    (place / "recall.json").write_text(json.dumps(sheet.as_data()))
    music = {"residue_db": -30.0, "over_time_db": [0.5, 1.5, None]}
    inside = {"from_s": 1.0, "to_s": 2.0, "seen": [{"stage": 0, "music": None}, {"stage": None, "music": music}]}
    (place / "inside.json").write_text(json.dumps(inside))
    held = limits("limiter.attenuation <= 3 dB", "true peak <= 6 dBTP")
    return row(id, found, held, [loudness_solved()], rank=rank, why="glue.Threshold -1 dB (002: -2 dB)",
               notes=("'glue' (Velvet Glue) bites too early",), match_gain_db=None)  # fmt: skip


def _measured(sound: np.ndarray, rate_hz: int) -> Measurements:
    ranges = {"verse": [(0, 2 * rate_hz)], "chorus": [(2 * rate_hz, 4 * rate_hz)]}
    return meter.measure(sound, AudioFormat(len(sound), rate_hz), ranges)


def _write_ledger(studio: Path, rows: list[Row]) -> None:
    def file_data(path: Path) -> dict[str, object]:
        file = inspect(path)
        samples, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
        return {"file": str(path), "audio_sha256": audio_hash(file),
                "measurements": _measured(np.ascontiguousarray(samples.T), rate_hz).as_data()}  # fmt: skip

    answer = {"variants": [row_data(one) for one in rows], "warnings": ["the Velvet Glue is old"], "trouble": [],
              "mixes": [{**file_data(studio / "mix.wav"), "match_gain_db": 0.0}],
              "references": [file_data(studio / "old record.wav")]}  # fmt: skip
    ledger = {"schema": 1, "title": "Tin Boats", "started": "2026-11-24T18:05:09+00:00", "state": "finished",
              "chain_file": str(studio / "test.chain.yaml"), "chain": CHAIN, "answer": answer,
              "variants": [{"id": one.id, "mix": one.mix, "varied": dict(one.settings), "key": ""} for one in rows]}
    (studio / "run" / "run.json").write_text(json.dumps(ledger))
    (studio / "run" / "table.csv").write_text(csv_text(rows))
