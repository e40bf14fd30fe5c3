"""What a user gets wrong, and the words they get: where, what, what to do. Nothing is rendered, nothing is left."""

from __future__ import annotations

import json

import numpy as np
import pytest
import soundfile
from whole_runs import chain_file, mix, sweeper

GOOD = "mix: mix.wav\ninserts: [{name: g, plugin: 'builtin:Gain', settings: {gain db: 1 dB}}]\n"
LIMITER = "mix: mix.wav\noutput: [{name: limiter, plugin: ZaMaximX2, settings: {%s}}]\n"


@pytest.mark.parametrize(
    ("text", "place", "what", "remedy"),
    [
        ("mix: mix.wav\ninserts: [{name: eq, plugin: Nosuch Comp}]\n", "2:30", "no plugin is called 'Nosuch Comp'",
         "`sweeper plugins`"),
        (LIMITER % "Treshold: -3 dB", "2:56", "no setting is called 'Treshold'", "did you mean 'Threshold'?"),
        (LIMITER % "Threshold: -50 dB", "2:56", "'Threshold' cannot be -50 dB", "it goes from -30 to 0 dB"),
        (LIMITER % "Release: 5 dB", "2:56", "'Release' is in ms, not in dB", "it goes from 1 to 100 ms"),
        (LIMITER % "Release: 5 ms, Release: 6 ms", "2:71", "'Release'", "line 2"),
        ("mix: mix.wav\ninserts: [{name: eq, plugin: ZamEQ2}]\n", "2:30", "takes one channel, the mix has two",
         "`channels: left/right`"),
        ("{\\rtf1 mix: mix.wav}", "", "rich text", "plain text"),
        ("mix: mix.wav\ninsert: [{plugin: x}]\n", "2:1", "unknown key 'insert'", "did you mean 'inserts'?"),
        ("mix: mix.wav\nrate: 48 kHz\n" + GOOD.split("\n", 1)[1], "2:1", "'rate' is not built in this version",
         "each mix keeps its own rate"),
        ("mix: mix.wav\nprint: {to: [dics]}\n" + GOOD.split("\n", 1)[1], "2:14", "no print spec is called 'dics'",
         "did you mean 'disc'?"),
    ],
)  # fmt: skip
@pytest.mark.long
def test_a_wrong_chain_file_is_told_at_its_place_by_check_and_by_run(tmp_path, text, place, what, remedy):
    mix(tmp_path / "mix.wav", 1.0)
    chain_file(tmp_path, text)
    for verb in ("check", "run"):
        ran = sweeper(verb, "test.chain.yaml", cwd=tmp_path)
        assert ran.code == 3
        assert (f"test.chain.yaml:{place}:" if place else "test.chain.yaml:") in ran.err
        assert what in ran.err
        assert remedy in ran.err
        assert ran.out == ""
    assert not (tmp_path / "results").exists()


def broken_mix(kind, path):
    if kind == "text":
        path.write_text("this is a note, not a mix\n")
    elif kind == "truncated":
        mix(path, 2.0)
        path.write_bytes(path.read_bytes()[:100_000])
    elif kind == "nan":
        samples = np.random.default_rng(0).uniform(-0.1, 0.1, (44100, 2)).astype(np.float32)
        samples[22050, 1] = np.nan
        soundfile.write(path, samples, 44100, subtype="FLOAT")
    elif kind == "empty":
        soundfile.write(path, np.zeros((0, 2)), 44100)
    elif kind == "six channels":
        soundfile.write(path, np.zeros((4410, 6)), 44100)


@pytest.mark.parametrize(
    ("kind", "words"),
    [("text", "not a sound file"), ("truncated", "cut short: 0.378 s of 2.000 s"), ("nan", "0:00.5"),
     ("empty", "no sound in it"), ("six channels", "6 channels")],
)  # fmt: skip
def test_a_mix_that_cannot_be_used_is_said_in_words(tmp_path, kind, words):
    broken_mix(kind, tmp_path / "mix.wav")
    ran = sweeper("run", chain_file(tmp_path, GOOD), cwd=tmp_path)
    assert ran.code == 3, ran.err
    assert "mix.wav" in ran.err
    assert words in ran.err
    assert "Traceback" not in ran.err
    assert not (tmp_path / "results").exists()


def test_a_mix_of_one_sample_is_mastered_and_what_cannot_be_measured_says_why(tmp_path):
    soundfile.write(tmp_path / "mix.wav", np.array([[0.5, 0.5]]), 44100, subtype="FLOAT")
    ran = sweeper("run", chain_file(tmp_path, GOOD), "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    (variant,) = ran.data["variants"]
    assert variant["measurements"]["loudness_lufs"] is None
    assert "loudness_lufs" in variant["measurements"]["reasons"]
    assert variant["match_gain_db"] is None
    assert variant["measurements"]["sample_peak_dbfs"] == pytest.approx(20 * np.log10(0.5) + 1, abs=1e-3)


def test_an_error_as_json_has_its_parts(tmp_path):
    ran = sweeper("check", chain_file(tmp_path, "mix: gone.wav\ninserts: [{plugin: x}]\n"), "--json", cwd=tmp_path)
    error = json.loads(ran.out)["error"]
    assert error["kind"] == "ChainFileError"
    assert error["problems"][0]["line"] == 1


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [(["rnu"], 2, "Did you mean 'run'?"), (["run"], 2, "Missing argument"), (["run", "gone.yaml"], 3, "gone.yaml"),
     (["measure", "gone.wav"], 3, "gone.wav"), (["run", "x", "--workers", "0"], 2, "--workers"),
     (["plugins", "--as-stage"], 2, "NAME"), (["plugins", "Nosuch"], 4, "no plugin is called 'Nosuch'")],
)  # fmt: skip
def test_a_wrong_command_line_is_answered(tmp_path, arguments, code, words):
    ran = sweeper(*arguments, cwd=tmp_path)
    assert ran.code == code
    assert words in ran.err


def test_a_fault_of_ours_leaves_a_report(tmp_path, monkeypatch, capsys):
    from sweeper.cli import main

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(main.root, "main", lambda *a, **k: 1 / 0)
    assert main.exit_code(["run"]) == 70
    (report,) = tmp_path.glob("sweeper-report-*.txt")
    assert "ZeroDivisionError" in report.read_text()
    assert report.name in capsys.readouterr().err
