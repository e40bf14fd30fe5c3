"""From a chain file over real music to picks and a report, as an engineer goes: nothing made by hand."""

from __future__ import annotations

import json

import pytest
import soundfile
from whole_runs import chain_file, outside_lufs, sweeper

CHAIN = """title: Tin Boats
mix: {file: mix.wav, sections: {first: "0:00-0:05", second: "0:05-0:10"}}
references: [other.flac]
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", settings: {ceiling db: -1.3 dB, true peak: on},
     drive: raise input trim}
vary: {limiter.release ms: [20 ms, 60 ms]}
reach: [{loudness: -13 LUFS, by: limiter.drive}]
prefer: [crest.loud highest]
audition: {match over: [second]}
"""


@pytest.mark.long
def test_real_music_from_the_chain_file_to_picks_and_report(tmp_path, music):
    for name, track, start in (("mix.wav", "track27", 10), ("other.flac", "Deprecation", 40)):
        rate_hz = soundfile.info(music[track]).samplerate
        cut, _ = soundfile.read(music[track], start=start * rate_hz, frames=10 * rate_hz, always_2d=True)
        soundfile.write(tmp_path / name, 0.5 * cut, rate_hz, subtype="PCM_24")
    ran = sweeper("run", chain_file(tmp_path, CHAIN), "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    run = tmp_path / ran.data["run"]
    files = sweeper("audition", run, "--preview", "--files", "blind", "--json", cwd=tmp_path)
    assert files.code == 0, files.err
    gains = {one["id"]: one["match_gain_db"] for one in files.data["sounds"]}
    for row in ran.data["variants"]:
        assert gains[row["id"]] == pytest.approx(row["match_gain_db"], abs=0.5), "a peak may need more room"
    both = {one["file"]: one["id"] for one in json.loads((tmp_path / "blind.key.json").read_text())["files"]}
    levels = []
    for name, id in both.items():
        samples, rate_hz = soundfile.read(tmp_path / "blind" / name, always_2d=True)
        part = samples if id.startswith("reference") else samples[5 * rate_hz : 10 * rate_hz]
        soundfile.write(tmp_path / "part.wav", part, rate_hz, subtype="FLOAT")
        levels.append(outside_lufs(tmp_path / "part.wav"))
    assert len(levels) == 2 + 1 + 3 + 1, "variants, mix, previews of the first, reference"
    assert max(levels) - min(levels) < 0.1
    identity = files.data["identity"]
    picks = {"001": {"verdict": "keep", "notes": [{"at_s": 6.5, "text": "breathes"}]}, "002": {"verdict": "drop"}}
    (tmp_path / "p.json").write_text(json.dumps({"schema": 1, "run": identity, "picks": picks}))
    listed = sweeper("shortlist", run, "--picks", "p.json", cwd=tmp_path)
    assert "by ear, keep: 001" in listed.out, listed.err
    assert sweeper("report", run, cwd=tmp_path).code == 0
    text = (run / "report.html").read_text("utf-8")
    assert "breathes" in text
    assert "BrickwallLimiter" in text
