"""Which renders of ours two files are, and what is known of how well their stages repeat."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
from recall_sheets import LIMITER, SHEET

from sweeper.audio import BroadcastTag, WavWriter
from sweeper.recall.repeating import Unsteady, sheet_of, unsteady


def tagged(folder, reference):
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "render.wav"
    with WavWriter(path, 1, 8000) as writer:
        writer.write(np.zeros((1, 800), np.float32))
        writer.commit(BroadcastTag(reference, "2026-11-24", "18:05:09"))
    return path


def test_a_sheet_is_found_beside_a_file_and_in_the_results(tmp_path):
    path = tagged(tmp_path / "results" / "run" / "variants" / "004", SHEET.id)
    (path.parent / "recall.json").write_text(json.dumps(SHEET.as_data()))
    assert sheet_of(path, tmp_path / "nowhere") == SHEET
    assert sheet_of(path.rename(tmp_path / "from the client.wav"), tmp_path / "results") == SHEET


def test_a_file_of_others_and_one_whose_sheet_is_gone_have_none(tmp_path):
    assert sheet_of(tagged(tmp_path, ""), tmp_path) is None
    assert sheet_of(tagged(tmp_path / "b", "f" * 24), tmp_path) is None


def test_the_least_steady_stage_comes_first_and_each_once():
    tape = replace(LIMITER, name="tape", plugin="Tape", repeats="-60.5 dBFS")
    steady = replace(LIMITER, name="eq", repeats="identical")
    off = replace(LIMITER, name="off", bypass=True, repeats="-20.0 dBFS")
    one = replace(SHEET, stages=(replace(LIMITER, repeats="-96.3 dBFS"), steady, off))
    other = replace(SHEET, stages=(replace(LIMITER, repeats="-90.1 dBFS"), tape))
    assert unsteady([one, None, other]) == (
        Unsteady("tape", "Tape", -60.5), Unsteady("limiter", "ZaMaximX2", -90.1))  # fmt: skip
    assert unsteady([None, None]) == unsteady([SHEET]) == ()
