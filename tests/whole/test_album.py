"""From a run of three mixes to the record and back: what was picked, put together, and each track made again."""

from __future__ import annotations

import json

import numpy as np
import pytest
import soundfile
from whole_runs import chain_file, mix, outside_lufs, sweeper

CHAIN = """
title: lights
mixes: [loud.wav, quiet.wav, {file: instrumental.wav, settings from: loud.wav}]
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
vary: {limiter.release ms: [20 ms, 200 ms]}
reach: [{loudness: -12 LUFS, by: limiter.drive}]
album: keep relations
"""


@pytest.mark.long
def test_a_run_becomes_a_record_whose_tracks_come_back(tmp_path):
    sound, rate_hz = soundfile.read(mix(tmp_path / "loud.wav", 5.0))
    for name, level in (("quiet", 0.5), ("instrumental", 0.8)):
        soundfile.write(tmp_path / f"{name}.wav", level * sound, rate_hz, subtype="FLOAT")
    ran = sweeper("run", chain_file(tmp_path, CHAIN), "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    run = tmp_path / ran.data["run"]
    (run / "audition").mkdir()
    document = {"schema": 1, "run": "x#1", "revision": 1, "saved": "", "trials": [], "ranking": {},
                "picks": {id: {"verdict": verdict, "notes": []}
                          for id, verdict in (("002", "keep"), ("003", "keep"), ("004", "drop"))}}  # fmt: skip
    (run / "audition/notes.json").write_text(json.dumps(document))

    drafted = sweeper("album", "--write", "lights.album.yaml", run, cwd=tmp_path)
    assert drafted.code == 0, drafted.err
    text = (tmp_path / "lights.album.yaml").read_text()
    assert [line.split('"')[1] for line in text.splitlines() if "variant:" in line] == ["002", "003"]
    assert "instrumental.wav has its settings from another mix" in text
    assert sweeper("album", "--write", "lights.album.yaml", run, cwd=tmp_path).code == 5, "never over a file"

    made = sweeper("album", "lights.album.yaml", "--json", cwd=tmp_path)
    assert made.code == 0, made.err
    first, second = made.data["tracks"]
    folder = tmp_path / made.data["folder"]
    loud, quiet = (outside_lufs(folder / one["proof_of"]) for one in (first, second))
    assert (loud, quiet) == pytest.approx((-12, -12 - 20 * np.log10(2)), abs=0.25), "relations are kept on the record"
    assert made.data["joins"][0]["step_lu"] == pytest.approx(quiet - loud, abs=0.02)

    back = sweeper("recall", folder / first["proof_of"], "--json", cwd=tmp_path)
    assert (back.code, back.data["verdict"]) == (0, "identical"), back.err
    told = sweeper("recall", folder / "proof.wav", cwd=tmp_path)
    assert told.code == 3
    assert "lights" in told.err
    assert first["proof_of"] in told.err
