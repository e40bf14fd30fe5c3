"""Recall as a user meets it: a file found alone leads back to its settings, and the master comes out again."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from plugin_builder import build
from whole_runs import Ran, chain_file, mix, sweeper

CHAIN = """
title: Lantern Bay
mix: mix.wav
inserts:
  - {name: eq, plugin: ZamEQ2, channels: mid/side, settings: {mid: {Boost/Cut 1: 2.2 dB}, side: {Boost/Cut 1: -3 dB}},
     output trim: -0.35 dB}
  - {name: tube, plugin: ZamTube, channels: left/right, bypass: on}
  - {name: low cut, plugin: "builtin:HighpassFilter", settings: {cutoff frequency hz: 23.456789 Hz}}
output:
  - {name: limiter, plugin: ZaMaximX2, drive: lower Threshold, settings: {Output Ceiling: -1 dB}}
vary: {limiter.Release: [3 ms, 25 ms]}
reach: [{loudness: -12 LUFS, by: limiter.drive}]
"""


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Ran]:
    """The folder, the run's folder in it, and the run."""
    folder = tmp_path_factory.mktemp("recall")
    mix(folder / "mix.wav", 3.0)
    done = sweeper("run", chain_file(folder, CHAIN), "--json", cwd=folder)
    assert done.code == 0, done.err
    return folder, folder / done.data["run"], done


def sheet_of(run: Path, id: str) -> dict:
    return json.loads((run / "variants" / id / "recall.json").read_text())


def test_a_solved_variant_comes_out_again_to_the_bit(ran):
    folder, run, _ = ran
    again = sweeper("recall", run / "variants" / "002" / "recall.json", cwd=folder)
    assert (again.code, again.err) == (0, "")
    assert "identical: variant 002 of Lantern Bay comes out as it was, sample for sample" in again.out
    assert "nothing has changed that the sheet records" in again.out
    assert max(map(len, again.out.splitlines())) <= 100


def test_a_file_found_alone_leads_back(ran, tmp_path):
    folder, run, _ = ran
    shutil.copy(run / "variants" / "001" / "matched.wav", tmp_path / "from the client.wav")
    again = sweeper("recall", tmp_path / "from the client.wav", "--json", cwd=folder)
    assert again.code == 0, again.err
    assert (again.data["schema"], again.data["identical"], again.data["variant"]) == (1, True, "001")
    assert again.data["null"]["peak_dbfs"] is None
    new = folder / again.data["run"]
    assert (new / again.data["files"]["render"]).is_file()
    made = json.loads((new / again.data["files"]["recall"]).read_text())
    assert made["audio_sha256"] == sheet_of(run, "001")["audio_sha256"]
    assert made["id"] != sheet_of(run, "001")["id"]


def test_the_settings_as_a_chain_file_give_the_same_master(ran):
    folder, run, _ = ran
    written = sweeper("recall", run / "variants" / "002" / "recall.json", "--as-chain", cwd=folder)
    assert written.code == 0, written.err
    assert "sweeper run lantern-bay-002.chain.yaml" in written.out
    once_more = sweeper("run", "lantern-bay-002.chain.yaml", "--json", cwd=folder)
    assert once_more.code == 0, once_more.err
    assert sheet_of(folder / once_more.data["run"], "001")["audio_sha256"] == sheet_of(run, "002")["audio_sha256"]


def test_a_chain_file_is_never_written_over_another(ran, tmp_path):
    folder, run, _ = ran
    target = tmp_path / "kept.yaml"
    target.write_text("mine")
    refused = sweeper("recall", run / "variants/001/recall.json", "--as-chain", "--to", target, cwd=folder)
    assert refused.code == 5
    assert "is there already" in refused.err
    assert target.read_text() == "mine"


@pytest.mark.parametrize(("changed_db", "peak"), [(-6.1, "-"), (-6.0, "")])
@pytest.mark.long
def test_a_changed_plugin_ends_with_6_and_both_files_kept(tmp_path, changed_db, peak):
    mix(tmp_path / "mix.wav", 1.0)
    build("gain", tmp_path, title="Drawn Gain", GAIN_DB=-6.0)
    chain = chain_file(tmp_path, "title: t\nmix: mix.wav\ninserts: [{name: g, plugin: Drawn Gain}]\n")
    run = tmp_path / sweeper("run", chain, "--json", cwd=tmp_path, plugins=tmp_path).data["run"]
    shutil.rmtree(tmp_path / "Drawn Gain.vst3")
    build("gain", tmp_path, title="Drawn Gain", GAIN_DB=changed_db)
    for options in ((), ("--json",)):
        again = sweeper("recall", run / "variants/001/render.wav", *options, cwd=tmp_path, plugins=tmp_path)
        if not peak:
            assert again.code == 0, again.err
            continue
        assert again.code == 6
        if options:
            assert again.data["null"]["peak_dbfs"] < -40
            assert [d["what"] for d in again.data["differences"]] == ["'g' (Drawn Gain): program (SHA-256)"]
        else:
            assert "differs: variant 001 of t: the null test leaves a peak of -" in again.out
            assert "program (SHA-256)" in again.out
            assert "does not come out as it was" in again.err
            assert "both files are kept" in again.err
    assert len(list(tmp_path.glob("results/*/variants/001/render.wav"))) == 3


def test_other_music_is_refused(ran, tmp_path):
    folder, run, _ = ran
    mix(tmp_path / "other.wav", 2.0)
    refused = sweeper("recall", run / "variants/001/recall.json", "--mix", tmp_path / "other.wav", "--json", cwd=folder)
    assert refused.code == 3
    assert "is not the music that the master was made from: 0:03.0" in refused.data["error"]["what"]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [(["gone.json"], 3, "no such file"), (["mix.wav"], 3, "holds no id of ours"),
     (["x.json", "--to", "y"], 2, "--as-chain"), (["test.chain.yaml"], 3, "holds no id of ours"),
     ([], 2, "name one SHEET|FILE")],
)  # fmt: skip
def test_a_wrong_command_line_is_answered(ran, arguments, code, words):
    refused = sweeper("recall", *arguments, cwd=ran[0])
    assert refused.code == code
    assert words in refused.err


def test_the_parent_never_loads_the_plugin_library():
    import subprocess
    import sys

    code = "import sys, sweeper.recall.again, sweeper.recall.as_chain, sweeper.cli.recall; print(sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "'pedalboard'" not in loaded
