"""From intake to delivery by the command line: a real run, its prints, and the way back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile
from rich.console import Console
from whole_runs import chain_file, mix, sweeper

from sweeper.chain.print_specs import find_spec, spec_names
from sweeper.cli.main import exit_code
from sweeper.cli.show_printed import show_specs

CHAIN = """\
title: Lantern Bay, first pass
mix: mix.wav
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, ceiling: ceiling db}
reach:
  - {loudness: -14 LUFS, by: limiter.drive}
  - {true peak: at most -1 dBTP, by: limiter.ceiling}
print: {to: [disc, flac], title: Lantern Bay, artist: The Pilots, isrc: XX-XXX-26-00001, fade out: 500 ms}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A finished run of a mix at 48 kHz in results/."""
    folder = tmp_path_factory.mktemp("print")
    mix(folder / "mix.wav", 4.0, 48000)
    chain_file(folder, CHAIN)
    ran = sweeper("run", "test.chain.yaml", cwd=folder)
    assert ran.code in (0, 1), ran.err
    return folder


def run_of(folder: Path) -> Path:
    return next((folder / "results").glob("*-lantern-bay-first-pass"))


def test_what_the_chain_file_asks_for_is_printed_and_found_again_from_the_file_alone(folder, tmp_path):
    ran = sweeper("print", run_of(folder), "1", "--out", tmp_path / "out", cwd=folder)
    assert ran.code == 0, ran.err
    assert "Lantern Bay (disc).wav" in ran.out
    assert "fade out of 22050 frames" in ran.out
    assert "192000 frames became 176400" in ran.out
    told = soundfile.info(tmp_path / "out" / "Lantern Bay (disc).wav")
    assert (told.samplerate, told.subtype, told.frames) == (44100, "PCM_16", 176400)
    again = sweeper("recall", tmp_path / "out" / "Lantern Bay (flac).flac", "--json", cwd=folder)
    assert again.code == 0, again.err
    assert again.data["identical"]


@pytest.mark.long
def test_json_is_the_manifest(folder, tmp_path):
    run = run_of(folder)
    ran = sweeper(
        "print", run, "001", "--to", "24-bit", "--title", "Other", "--out", tmp_path / "o", "--json", cwd=folder
    )
    assert ran.code == 0, ran.err
    assert ran.data["schema"] == 1
    assert ran.data == json.loads((folder / ran.data["manifest"]).read_text())
    (file,) = ran.data["files"]
    assert (file["file"], file["title"], file["isrc"]) == ("Other (24-bit).wav", "Other", "XXXXX2600001")
    assert file["measurements"]["true_peak_dbtp"] <= -0.995


def test_stop_ends_with_1_and_wrong_use_with_2(folder, capsys):
    run = run_of(folder)
    stop = sweeper("print", run, "1", "--to", "disc", "--ceiling", "-6 dBTP", "--over", "stop", cwd=folder)
    assert stop.code == 1
    assert "over -6 dBTP (--ceiling); nothing is printed" in stop.err
    for words, said in (
        (("print", run, "1", "--to", "dics"), "no print spec is called 'dics'; did you mean 'disc'?"),
        (("print", run, "1", "--isrc", "X"), "is no ISRC"),
        (("print", run, "1", "--ceiling", "loud"), "is no ceiling"),
        (("print", run, "1", "--name", "{who}"), "name has '{who}'"),
        (("print", run), "name a run's folder and the number of a variant"),
        (("print", run, "1", "--to", "list"), "leave out the rest"),
    ):
        assert exit_code([str(word) for word in words]) == 2
        assert said in capsys.readouterr().err
    assert exit_code(["print", str(run), "9", "--to", "disc"]) == 3
    assert "has no variant 9" in capsys.readouterr().err


def test_the_specs_are_listed(capsys):
    show_specs([find_spec(name, Path()) for name in spec_names()], Console(width=120))
    assert "for a compact disc" in capsys.readouterr().out
    assert exit_code(["print", "--to", "list", "--json"]) == 0
    specs = json.loads(capsys.readouterr().out)["specs"]
    assert {"disc", "archive", "mp3"} <= {spec["name"] for spec in specs}


@pytest.mark.long
def test_solve_makes_the_variant_anew_under_a_lower_ceiling(folder, tmp_path):
    out = tmp_path / "out"
    ran = sweeper("print", run_of(folder), "1", "--to", "disc", "--ceiling", "-2 dBTP", "--over", "solve", "--out", out,
                  "--json", cwd=folder)  # fmt: skip
    assert ran.code == 0, ran.err
    (file,) = ran.data["files"]
    assert file["gain_db"] == 0
    assert -3.5 < file["measurements"]["true_peak_dbtp"] <= -1.995
    assert file["measurements"]["loudness_lufs"] == pytest.approx(-14, abs=0.25)  # the fade takes some
    assert (run_of(folder) / "prints" / file["sheet"]).resolve().is_file()


@pytest.mark.long
def test_intake_ends_with_1_for_what_is_to_stop_at_and_tells_why_and_what_to_ask(tmp_path):
    mix(tmp_path / "good.wav", 3.0, 48000)
    data, rate_hz = soundfile.read(tmp_path / "good.wav")
    data[:, 1] = 0
    soundfile.write(tmp_path / "dead.wav", data, rate_hz, subtype="PCM_24")
    ran = sweeper("intake", "good.wav", "dead.wav", cwd=tmp_path)
    assert ran.code == 1
    assert "stop  channels: the right channel is dead" in ran.out
    assert "half of the mix is missing" in ran.out
    assert "ask the mixer for the bounce again, with both channels" in ran.out
    found = sweeper("intake", "good.wav", "--json", cwd=tmp_path).data["files"][0]
    assert found["verdict"] in ("ok", "look")
    assert len(found["findings"]) == 18
