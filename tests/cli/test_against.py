"""`sweeper measure --against` and `--playback`.

Sound from EBU Tech 3341 v4, table 1, cases 1 and 2: a stereo sine of 1000 Hz at -23 dBFS is -23.0 LUFS, at -33 dBFS
-33.0 LUFS, both ±0.1 LU.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from rich.console import Console
from whole_runs import chain_file, sweeper

from sweeper.cli.show_against import all_met, show_against
from sweeper.cli.show_playback import show_playback
from sweeper.quantities import Measurements
from sweeper.targets import BY_ID


@pytest.fixture
def sines(tmp_path):
    for name, level_dbfs in (("one", -23.0), ("two", -33.0)):
        sine = 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * 1000 * np.arange(2 * 48000) / 48000)
        soundfile.write(tmp_path / f"{name}.wav", np.stack([sine, sine], axis=1), 48000, subtype="FLOAT")
    soundfile.write(tmp_path / "silence.wav", np.zeros((48000, 2)), 48000)
    return tmp_path


def test_each_requirement_is_met_or_missed_by_how_much(sines):
    ran = sweeper("measure", "one.wav", "two.wav", "silence.wav", "--against", "ebu-r128", "--playback", cwd=sines)
    assert ran.code == 1
    lines = ran.out.splitlines()
    assert any(line.startswith("one.wav: loudness") and line.rstrip().endswith("met") for line in lines)
    (missed,) = re.findall(r"two\.wav: loudness .* missed by (\S+) LU, too low", ran.out)
    (gain,) = re.findall(r"two\.wav: a gain of (\S+) dB puts it on -23 LUFS", ran.out)
    assert float(missed) == pytest.approx(9.8, abs=0.1)
    assert float(gain) == pytest.approx(10, abs=0.1)
    assert "one.wav: a gain" not in ran.out
    assert "two.wav in normalised playback" in ran.out
    caution = ran.out[ran.out.index("levels and ceilings are the documents'") :]
    assert caution.endswith("common practice, no source.\n")
    assert max(map(len, caution.splitlines())) <= 100
    assert ran.out.count("not judged:") == 2, "silence has neither loudness nor peak"
    assert "no loudness to go by" in ran.out


def test_a_file_that_meets_its_targets_ends_with_0_and_all_of_it_is_data(sines):
    asked = ("--against", "ebu-r128", "--against", "atsc-a85", "--playback", "--json")
    ran = sweeper("measure", "one.wav", *asked, cwd=sines)
    assert ran.code == 0
    (file,) = ran.data["files"]
    first, second = file["against"]
    assert (first["target"], first["met"], second["target"], second["met"]) == ("ebu-r128", True, "atsc-a85", True)
    assert [one["measurement"] for one in first["requirements"]] == ["loudness_lufs", "true_peak_dbtp"]
    assert (first["requirements"][0]["lowest"], first["requirements"][0]["highest"]) == (-23.2, -22.8)
    assert second["gain_to_target_db"] == pytest.approx(-1.0, abs=0.1)
    gains = {level["level_lufs"]: level["gain_db"] for level in file["playback"]}
    assert gains == {level: pytest.approx(level + 23, abs=0.1) for level in (-14, -16, -18, -20, -23, -24)}
    assert all(level["true_peak_dbtp"] == pytest.approx(-23 + level["gain_db"], abs=0.1) for level in file["playback"])


def test_what_cannot_be_judged_is_not_met(sines):
    silence = Measurements({"loudness_lufs": None, "true_peak_dbtp": None})
    file = SimpleNamespace(measurements=silence)
    assert not all_met([file], [BY_ID["ebu-r128"]])
    assert all_met([file], [])


def test_the_targets_are_listed_with_their_documents(tmp_path):
    ran = sweeper("measure", "--against", "list", cwd=tmp_path)
    assert ran.code == 0
    assert "atsc-a85  -24 LUFS ±2 LU, true peak at most -2 dBTP" in ran.out
    assert "aes-td1008-speech  -18 LUFS +1 LU" in ran.out
    assert "EBU R 128, version 5, 2023" in ran.out
    assert "the document itself not read" in " ".join(ran.out.split())
    assert max(map(len, ran.out.splitlines())) <= 100
    listed = sweeper("measure", "--against", "list", "--json", cwd=tmp_path).data["targets"]
    assert {"ebu-r128": "delivery", "aes-td1008-music-track": "playback normalisation"}.items() <= {
        one["id"]: one["kind"] for one in listed}.items()  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(["one.wav", "--against", "ebu-r182"], "did you mean 'ebu-r128'?"), ([], "Missing argument 'FILE...'"),
     (["one.wav", "--against", "aes-td1008-speech"], "playback normalisation"),
     (["one.wav", "--against", "list"], "leave out the rest"), (["--against", "list", "--playback"], "leave out the"),
     (["--against", "list", "--against", "ebu-r128"], "leave out the"),
     (["--against", "list", "--plot", "one.svg"], "leave out"), (["--against", "list", "--cross-check"], "leave out"),
     (["--against", "list", "--target", "-14"], "leave out the"),
     (["--against", "list", "--section", "a=0-1"], "leave out the")],
)  # fmt: skip
def test_a_target_that_is_none_is_a_wrong_command_line(tmp_path, arguments, words):
    ran = sweeper("measure", *arguments, cwd=tmp_path)
    assert (ran.code, words in ran.err) == (2, True)


def test_a_run_holds_its_variants_to_a_target_and_can_be_ranked_again(sines):
    chain = chain_file(sines, """
mix: two.wav
inserts: [{name: gain, plugin: "builtin:Gain"}]
limits: [meets ebu-r128]
vary: {gain.gain db: [0 dB, 10 dB]}
""")
    ran = sweeper("run", chain, "--json", cwd=sines)
    assert ran.code == 0, ran.err
    assert [[one["met"] for one in variant["limits"]] for variant in ran.data["variants"]] == [
        [False, True, True], [True, True, True]]  # fmt: skip
    assert ran.data["variants"][0]["limits"][0]["limit"] == "loudness >= -23.2 LUFS (ebu-r128)"
    again = sweeper("shortlist", ran.data["run"], "--prefer", "crest highest", "--keep", 1, "--json", cwd=sines)
    assert again.code == 0, again.err
    assert again.data["picked"] == [ran.data["variants"][1]["id"]]


def shown(measurements: Measurements, id: str) -> str:
    console = Console(width=100, file=io.StringIO(), highlight=False)
    file = SimpleNamespace(measurements=measurements, file=SimpleNamespace(path=Path("a [b].wav")))
    show_against([file, file], [BY_ID[id]], console)
    return console.file.getvalue()


def test_a_miss_too_small_to_show_is_not_shown_as_none():
    text = shown(Measurements({"loudness_lufs": -22.798, "true_peak_dbtp": -0.5}), "ebu-r128")
    assert "a [b].wav: loudness" in text
    assert "missed by less than 0.01 LU, too high" in text
    assert "missed by 0.50 dB, too high" in text
    assert "its true peak on -0.70 dBTP: gain alone will not do" in " ".join(text.split())


def test_where_the_peak_has_room_gain_alone_does():
    text = shown(Measurements({"loudness_lufs": -30.0, "true_peak_dbtp": -9.0}), "atsc-a85")
    assert "a gain of +6.00 dB puts it on -24 LUFS, its true peak on -3.00 dBTP\n" in text


def test_a_gain_that_the_ceiling_holds_back_and_a_peak_above_it_are_said():
    console = Console(width=200, file=io.StringIO(), highlight=False)
    measurements = Measurements({"loudness_lufs": -20.0, "true_peak_dbtp": -0.5})
    show_playback([SimpleNamespace(measurements=measurements, file=SimpleNamespace(path=Path("a.wav")))], console)
    text = console.file.getvalue()
    assert "stays 6.00 dB under, held by its peak; true peak above -1 dBTP" in text
    assert re.search(r"-20 +\+0\.00 +-0\.50 +EBU R 128 s2.*; true peak above -1 dBTP", text)
    assert re.search(r"-24 +-4\.00 +-4\.50 +ATSC A/85: television *\n", text)
