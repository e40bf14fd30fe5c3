"""Every packaged plugin at every rate that mixes come in: listed, its settings shown, rendered, and rendered again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from plugin_fixtures import PACKAGED
from whole_runs import chain_file, mix, sweeper

RATES_HZ = (44100, 48000, 88200, 96000, 176400, 192000)
#: Those that take one channel.
MONO = frozenset({"ZamAutoSat", "ZamComp", "ZamDelay", "ZamDynamicEQ", "ZamEQ2", "ZamGEQ31", "ZamGate", "ZamGrains",
                  "ZamPhono", "ZamTube", "ZaMultiComp"})  # fmt: skip
#: Those that do not give the same twice, by what was seen.
NEVER_THE_SAME: frozenset[str] = frozenset()


def names() -> list[str]:
    """Every plugin of the package; at least the seventeen of zam-plugins 4.1."""
    found = sorted(path.stem for path in PACKAGED.glob("Za*.vst3"))
    assert len(found) >= 17
    return found


@pytest.mark.long
@pytest.mark.parametrize("name", names())
def test_it_renders_at_every_rate_and_gives_the_same_again(tmp_path: Path, name):
    files = [mix(tmp_path / f"{rate_hz}.wav", 2.0, rate_hz).name for rate_hz in RATES_HZ]
    channels = ", channels: left/right" if name in MONO else ""
    text = f"title: {name}\nmixes: [{', '.join(files)}]\ninserts:\n  - {{name: it, plugin: {name}{channels}}}\n"
    chain = chain_file(tmp_path, text)
    hashes = []
    for store in ("one", "two"):  # in processes of their own
        ran = sweeper("run", chain, "--json", cwd=tmp_path, timeout_s=900, SWEEPER_STORE=str(tmp_path / store))
        assert ran.code == 0, ran.err
        assert [variant["status"] for variant in ran.data["variants"]] == ["done"] * len(RATES_HZ)
        sheets = sorted((tmp_path / ran.data["run"]).glob("variants/*/recall.json"))
        hashes.append([json.loads(sheet.read_text())["audio_sha256"] for sheet in sheets])
    assert (hashes[0] == hashes[1]) is (name not in NEVER_THE_SAME)
    checked = sweeper("check", chain, "--twice", "--json", cwd=tmp_path, timeout_s=900)
    assert checked.code == 0, checked.err
    (stage,) = checked.data["stages"]
    assert (stage["repeats"]["verdict"] == "repeats") is (name not in NEVER_THE_SAME), stage["repeats"]


@pytest.mark.long
@pytest.mark.parametrize("name", names())
def test_its_settings_are_shown(tmp_path: Path, name):
    shown = sweeper("plugins", name, "--json", cwd=tmp_path, timeout_s=300)
    assert shown.code == 0, shown.err
    plugin = shown.data["plugin"]
    assert plugin["name"] and plugin["channels"] == (1 if name in MONO else 2)
    assert plugin["settings"] or name == "ZamAutoSat"
