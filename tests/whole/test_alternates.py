"""An instrumental beside its main mix: the same settings to the last digit, though it is quieter; nothing solved."""

from __future__ import annotations

import json

import soundfile
from whole_runs import chain_file, mix, sweeper

CHAIN = """
title: alternates
mixes: [main.wav, {file: instrumental.wav, settings from: main.wav}]
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
vary: {limiter.release ms: [20 ms, 200 ms]}
reach: [{loudness: -12 LUFS, by: limiter.drive}]
prefer: [crest highest]
audition: {keep: 1}
"""


def test_an_instrumental_has_its_main_mixs_settings_and_its_own_loudness(tmp_path):
    mix(tmp_path / "main.wav", 4.0)
    sound, rate_hz = soundfile.read(tmp_path / "main.wav")
    soundfile.write(tmp_path / "instrumental.wav", 0.7 * sound, rate_hz, subtype="FLOAT")
    ran = sweeper("run", chain_file(tmp_path, CHAIN), "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    by_id = {one["id"]: one for one in ran.data["variants"]}
    for main, alternate in (("001", "003"), ("002", "004")):
        (solved,), (taken,) = by_id[main]["reach"], by_id[alternate]["reach"]
        assert (taken["ending"], taken["at"], taken["passes"]) == ("as its main mix", solved["at"], 1)
        sheets = [json.loads((tmp_path / ran.data["run"] / "variants" / id / "recall.json").read_text())
                  for id in (main, alternate)]  # fmt: skip
        own = [[{key: value for key, value in stage.items() if key != "gave"} for stage in sheet["stages"]]
               for sheet in sheets]  # fmt: skip
        assert own[0] == own[1], "every setting, and nothing but the sound differs"
        loud = [by_id[id]["measurements"]["loudness_lufs"] for id in (main, alternate)]
        assert 0.5 < loud[0] - loud[1] < 4.0, "it is 3.1 dB quieter before the limiter"
        words = f"{alternate} is instrumental.wav with the settings of {main}"
        assert any(words in warning for warning in ran.data["warnings"])
    kept = {id for id, one in by_id.items() if "render" in one["files"] and (
        tmp_path / ran.data["run"] / one["files"]["render"]).exists()}  # fmt: skip
    assert kept in ({"001", "003"}, {"002", "004"})
