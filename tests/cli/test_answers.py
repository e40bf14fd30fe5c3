"""Commands that work: what stands on stdout, as text and as JSON."""

from __future__ import annotations

import json

import pytest
from plugin_fixtures import packaged
from whole_runs import chain_file, mix, sweeper


def test_measure_shows_every_quantity_and_json_has_every_key(tmp_path):
    from sweeper.quantities import OF_FILES

    mix(tmp_path / "a mix.wav", 4.0)
    text = sweeper("measure", "a mix.wav", cwd=tmp_path)
    ran = sweeper("measure", "a mix.wav", "--cross-check", "--json", cwd=tmp_path)
    (file,) = ran.data["files"]
    assert {q.key for q in OF_FILES} <= set(file["measurements"])
    assert all(q.name in text.out for q in OF_FILES)
    assert file["measurements"]["loudness_lufs"] == pytest.approx(file["cross_check_loudness_lufs"], abs=0.05)


def test_plugins_lists_without_loading(tmp_path):
    packaged("ZaMaximX2")
    ran = sweeper("plugins", "--json", cwd=tmp_path)
    names = [p["name"] for p in ran.data["installed"]]
    assert "ZaMaximX2" in names
    assert len(names) >= 17
    assert "builtin:BrickwallLimiter" in [b["name"] for b in ran.data["builtin"]]


def test_one_plugins_settings(tmp_path):
    ran = sweeper("plugins", "zamaximx2", cwd=tmp_path)
    assert "Threshold" in ran.out
    assert "-30  -27  -24" in ran.out
    data = sweeper("plugins", "zamaximx2", "--json", cwd=tmp_path).data["plugin"]
    shown = {setting["name"]: setting for setting in data["settings"]}
    assert set(shown) == {"Release", "Output Ceiling", "Threshold"}
    assert data["latency_frames"] == 480
    assert len(shown["Threshold"]["texts"]) == 11


@pytest.mark.parametrize("name", ["ZaMaximX2", *(
    pytest.param(name, marks=pytest.mark.long) for name in ("ZamEQ2", "builtin:BrickwallLimiter"))])  # fmt: skip
def test_a_stage_to_paste_can_be_pasted_and_changes_nothing(tmp_path, name):
    mix(tmp_path / "mix.wav", 1.0)
    pasted = sweeper("plugins", name, "--as-stage", cwd=tmp_path).out
    ran = sweeper("check", chain_file(tmp_path, f"mix: mix.wav\noutput:\n{pasted}"), cwd=tmp_path)
    assert ran.code == 0, ran.err


def test_check_counts_and_estimates_and_renders_nothing(tmp_path):
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, """
mix: mix.wav
output: [{name: limiter, plugin: ZaMaximX2, drive: lower Threshold}]
vary: {limiter.Release: [10 ms, 20 ms, 30 ms]}
reach: [{loudness: -12 LUFS, by: limiter.drive}]
""")
    ran = sweeper("check", chain, cwd=tmp_path)
    assert ran.code == 0, ran.err
    assert "3 variants" in ran.out
    assert "limiter: ZaMaximX2 4.1.0 (delay 480 frames as reported, taken out" in ran.out
    data = sweeper("check", chain, "--json", cwd=tmp_path).data
    assert data["variants"] == 3
    assert 0 < data["estimated_s_median"] <= data["estimated_s_worst"]
    sound = (3 * 2 + 1) * 4 * 2 * 3 * 44100
    assert sound < data["results_bytes"] < sound * 1.1, "three renders, a copy of each and of the mix, and small files"
    assert data["steps_median"] == data["passes_median"] == 3 + 2 + 2, "one untaught, two taught; one stage"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mix.wav", "test.chain.yaml"]


def test_the_table_fits_a_hundred_columns_and_says_how_it_is_ordered(tmp_path):
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, """
mix: mix.wav
inserts: [{name: colour, plugin: "builtin:Distortion"}]
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
vary: {colour.drive db: [1 dB, 3 dB], limiter.release ms: [20 ms, 100 ms]}
reach: [{loudness: -14 LUFS, by: limiter.drive}]
limits: [overs <= 1000000]
""")
    ran = sweeper("run", chain, cwd=tmp_path)
    assert ran.code == 0, ran.err
    assert max(map(len, ran.out.splitlines())) <= 100
    assert "not ranked: use your ears" in ran.out
    assert "Start at a low level" in ran.out
    assert ran.out.count(" met ") == 4
    assert ran.err == "", "nobody watches: no progress"
    assert "\x1b" not in ran.out, "no colour where nobody sees it"


def test_a_run_in_which_nothing_is_inside_the_limits_ends_with_1(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain = chain_file(tmp_path, "mix: mix.wav\ninserts: [{plugin: 'builtin:Gain'}]\nlimits: [loudness <= -50 LUFS]\n")
    ran = sweeper("run", chain, "--json", cwd=tmp_path)
    (variant,) = ran.data["variants"]
    assert (ran.code, variant["status"], variant["limits"][0]["met"]) == (1, "done", False)
    assert (tmp_path / ran.data["run"] / variant["files"]["matched"]).is_file()


@pytest.mark.long
def test_quiet_says_nothing_but_the_answer(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain = chain_file(tmp_path, "mix: mix.wav\ninserts: [{plugin: 'builtin:Gain'}]\n")
    ran = sweeper("run", chain, "--quiet", cwd=tmp_path)
    assert (ran.code, ran.err) == (0, "")
    assert "files: results/" in ran.out


def test_json_goes_alone_on_stdout(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain = chain_file(tmp_path, "mix: mix.wav\ninserts: [{plugin: 'builtin:Gain'}]\n")
    ran = sweeper("run", chain, "--json", cwd=tmp_path)
    assert ran.err == ""
    assert json.loads(ran.out)["schema"] == 1
    assert set(ran.data["work"]) == {
        "variants", "steps_done", "steps_predicted", "steps_in_store", "steps_unshared", "steps_rebuilt", "passes",
        "excerpts", "plugin_s", "wall_s", "total_steps", "total_plugin_s",
    }  # fmt: skip
    assert (ran.data["work"]["steps_done"], ran.data["work"]["steps_predicted"]) == (1, 1)
