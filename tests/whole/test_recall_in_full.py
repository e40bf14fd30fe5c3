"""Past masters after an update: the stage is named, all of a folder are listed, and a revision is a run of its own."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
import soundfile
from plugin_builder import build
from whole_runs import chain_file, mix, outside_lufs, sweeper

CHAIN = """
title: Lantern Bay
mix: mix.wav
inserts:
  - {name: low cut, plugin: "builtin:HighpassFilter", settings: {cutoff frequency hz: 25 Hz}}
  - {name: colour, plugin: Drawn Gain}
output:
  - {name: limiter, plugin: ZaMaximX2, drive: lower Threshold, ceiling: Output Ceiling}
vary: {limiter.Release: [3 ms, 25 ms]}
reach: [{loudness: -9 LUFS, by: limiter.drive}]
"""


def built(folder: Path, gain_db: float) -> None:
    shutil.rmtree(folder / "Drawn Gain.vst3", ignore_errors=True)
    build("gain", folder, title="Drawn Gain", GAIN_DB=gain_db)


@pytest.fixture(scope="module")
def updated(tmp_path_factory) -> tuple[Path, Path]:
    """A folder whose run was made with one version of a plugin, and which has another one now, a bit apart."""
    folder = tmp_path_factory.mktemp("updated")
    mix(folder / "mix.wav", 12.0)
    built(folder, 3.0)
    done = sweeper("run", chain_file(folder, CHAIN), "--json", cwd=folder, plugins=folder,
                   SWEEPER_STORE=str(folder / "s"))  # fmt: skip
    assert done.code == 0, done.err
    built(folder, 3.0 - 5e-7)  # less than the last bit of a 32-bit float
    return folder, folder / done.data["run"]


@pytest.mark.long
def test_in_a_second_place_with_an_emptied_store_it_is_identical(tmp_path):
    mix(tmp_path / "mix.wav", 3.0)
    built(tmp_path, 3.0)
    run = tmp_path / sweeper("run", chain_file(tmp_path, CHAIN), "--json", cwd=tmp_path, plugins=tmp_path).data["run"]
    there = tmp_path / "there"
    shutil.copytree(run, there / "results" / run.name)
    shutil.rmtree(run)
    again = sweeper("recall", f"results/{run.name}/variants/002", cwd=there, plugins=tmp_path,
                    SWEEPER_STORE=str(tmp_path / "emptied"))  # fmt: skip
    assert again.code == 0, again.err
    assert "identical: variant 002 of Lantern Bay comes out as it was, sample for sample" in again.out
    assert "as it was: plugin, code, state and settings of 'low cut' (HighpassFilter), 'colour'" in again.out


@pytest.mark.long
def test_one_bit_in_one_plugin_names_the_stage_with_and_without_the_old_sound(updated):
    folder, run = updated
    with_store = sweeper("recall", run / "variants" / "001", cwd=folder, plugins=folder,
                         SWEEPER_STORE=str(folder / "s"))  # fmt: skip
    assert with_store.code == 6
    assert "'colour' (Drawn Gain): program (SHA-256)" in with_store.out
    assert "first at 'colour' (Drawn Gain): what comes to it is what came to it then" in with_store.out
    assert "rendered twice now it is the same to the last bit" in with_store.out
    rows = {line.split("'")[1]: line for line in with_store.out.splitlines() if line.startswith("'") and "  " in line}
    assert "as then" in rows["low cut"]
    assert "another sound" in rows["colour"]
    assert "first at 'colour' (Drawn Gain)" in with_store.err
    alone = folder / "stripped.wav"
    samples, rate_hz = soundfile.read(run / "variants" / "001" / "render.wav", dtype="float32")
    soundfile.write(alone, samples, rate_hz, subtype="FLOAT")
    bare = sweeper("recall", alone, "--json", cwd=folder, plugins=folder, SWEEPER_STORE=str(folder / "emptied"))
    assert bare.code == 6
    assert "its sound is that of this sheet" in bare.data["found_by"]
    assert bare.data["first_stage"]["stage"] == "'colour' (Drawn Gain)"
    assert bare.data["first_stage"]["sure"]
    assert (bare.data["first_stage"]["from_s"], bare.data["first_stage"]["to_s"]) == (0.0, 5.0)
    assert bare.data["null"]["peak_dbfs"] < -100
    assert bare.data["floor"]["repeats"]


@pytest.mark.long
def test_all_of_a_folder_are_listed_and_a_revision_is_a_run_of_its_own(updated):
    folder, run = updated
    listed = sweeper("recall", "--all", "results", cwd=folder, plugins=folder)
    assert listed.code == 6
    assert "0 of 2 come back" in listed.out, listed.out
    assert "'colour'" in listed.out
    assert max(map(len, listed.out.splitlines())) <= 100
    built(folder, 3.0)
    back = sweeper("recall", "--all", run, "--json", cwd=folder, plugins=folder)
    assert back.code == 0, back.err
    assert [m["verdict"] for m in back.data["masters"]] == ["identical", "identical"]
    made = sweeper("recall", run / "variants" / "001", "--change", "loudness -0.5 LU", "--by", "drive", cwd=folder,
                   plugins=folder)  # fmt: skip
    assert made.code == 0, made.err
    assert "without it, it comes back as it was" in made.out
    new = folder / made.out.rsplit("file: ", 1)[1].strip()
    assert outside_lufs(new) - outside_lufs(run / "variants" / "001" / "render.wav") == pytest.approx(-0.5, abs=0.06)
    sheet = json.loads((new.parent / "recall.json").read_text())
    assert sheet["parent"] == json.loads((run / "variants" / "001" / "recall.json").read_text())["id"]
    built(folder, 3.0 - 5e-7)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(["x.json", "--all", "results"], "name one SHEET|FILE"),
     (["x.json", "--change", "loudness -1 LU"], "belong together"),
     (["x.json", "--page", "a.html", "--as-chain"], "are two things"), (["x.json", "--picked"], "among the masters"),
     (["--all", "results", "--mix", "x.wav"], "of one master")],
)  # fmt: skip
def test_options_that_do_not_belong_together_are_refused(arguments, words):
    from click.testing import CliRunner

    from sweeper.cli.recall import recall

    refused = CliRunner().invoke(recall, arguments)
    assert refused.exit_code == 2
    assert words in refused.output
