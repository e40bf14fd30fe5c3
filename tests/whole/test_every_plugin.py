"""Every packaged plugin at every rate that mixes come in: listed, its settings shown, rendered, and rendered twice."""

from __future__ import annotations

from pathlib import Path

import pytest
from plugin_fixtures import PACKAGED
from whole_runs import chain_file, mix, sweeper

RATES_HZ = (44100, 48000, 88200, 96000, 176400, 192000)
#: Those that take one channel.
MONO = frozenset({"ZamAutoSat", "ZamComp", "ZamDelay", "ZamDynamicEQ", "ZamEQ2", "ZamGEQ31", "ZamGate", "ZamGrains",
                  "ZamPhono", "ZamTube", "ZaMultiComp"})  # fmt: skip
#: Those that never give the same twice in two processes, by what was seen.
NEVER_THE_SAME: frozenset[str] = frozenset()


def names() -> list[str]:
    """Every plugin of the package; at least the seventeen of zam-plugins 4.1."""
    found = sorted(path.stem for path in PACKAGED.glob("Za*.vst3"))
    assert len(found) >= 17
    return found


@pytest.mark.long
@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("name", names())
def test_it_renders_and_repeats_at_every_rate(tmp_path: Path, name, rate_hz):
    mix(tmp_path / "mix.wav", 2.0, rate_hz)
    channels = ", channels: left/right" if name in MONO else ""
    text = f"title: {name}\nmix: mix.wav\ninserts:\n  - {{name: it, plugin: {name}{channels}}}\n"
    store = {"SWEEPER_STORE": str(tmp_path / "store")}
    checked = sweeper("check", chain_file(tmp_path, text), "--twice", "--json", cwd=tmp_path, timeout_s=600, **store)
    assert checked.code == 0, checked.err
    (stage,) = checked.data["stages"]
    assert (stage["repeats"]["verdict"] == "repeats") is (name not in NEVER_THE_SAME), stage["repeats"]
    ran = sweeper("run", tmp_path / "test.chain.yaml", "--json", cwd=tmp_path, timeout_s=600, **store)
    assert ran.code == 0, ran.err
    (variant,) = ran.data["variants"]
    assert variant["status"] == "done"
    recalled = sweeper("recall", Path(ran.data["run"]) / "variants/001/recall.json", "--json", cwd=tmp_path,
                       timeout_s=600, **store)  # fmt: skip
    assert recalled.data["identical"] is (name not in NEVER_THE_SAME)


@pytest.mark.long
@pytest.mark.parametrize("name", names())
def test_its_settings_are_shown(tmp_path: Path, name):
    shown = sweeper("plugins", name, "--json", cwd=tmp_path, timeout_s=300)
    assert shown.code == 0, shown.err
    plugin = shown.data["plugin"]
    assert plugin["name"] and plugin["channels"] == (1 if name in MONO else 2)
    assert plugin["settings"] or name == "ZamAutoSat"
