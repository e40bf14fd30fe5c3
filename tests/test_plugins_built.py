"""The test plugins are what the other tests take them for: exact answers, and faults that really happen.

Known answers are arithmetic: the decibel (20 log10 of a ratio of amplitudes, IEC 60027-3), a delay in whole
frames, a polynomial. Exit statuses are POSIX signal numbers. No plugin is loaded in this process.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import plugin_builder
import pytest
from numpy.typing import NDArray
from plugin_builder import build, read_witness, title_of

RATE_HZ = 48_000
BLOCK_FRAMES = 1024
CLIP_FRAMES = 20 * BLOCK_FRAMES
HANG_TIMEOUT_S = 2
"""Many times what a child takes that does not hang (0.5 s)."""

CHILD = """
import json, os, signal, sys, time
from pathlib import Path
import numpy as np
import pedalboard
from pedalboard._pedalboard import _PythonExternalPluginMixin

order = json.loads(sys.argv[1])
if not order["ask_every_setting"]:
    _PythonExternalPluginMixin.__set_initial_parameter_values__ = lambda plugin, values: None
clip = np.load("clip.npy")
start_s = time.monotonic()
plugin = pedalboard.VST3Plugin(order["bundle"])
load_s = time.monotonic() - start_s
for index, raw in order["raw"].items():
    plugin._parameters[int(index)].raw_value = raw
start_s = time.monotonic()
renders = [plugin.process(clip, order["rate_hz"], buffer_size=order["block_frames"])
           for _ in range(order["renders"])]
render_s = time.monotonic() - start_s
if order["kill"]:
    os.kill(os.getpid(), signal.SIGKILL)
if order["restore_state"]:
    plugin.raw_state = plugin.raw_state
np.save("renders.npy", np.array(renders))
Path("facts.json").write_text(json.dumps({
    "name": plugin.name, "maker": plugin.manufacturer_name, "identifier": plugin.identifier,
    "latency_frames": plugin.reported_latency_samples, "load_s": load_s, "render_s": render_s,
    "settings": [[p.name, p.label, p.raw_value, p.string_value, p.num_steps] for p in plugin._parameters],
}))
del plugin  # Python may end without taking it apart
"""


@dataclass(frozen=True)
class Hosted:
    """What became of a plugin in a process of its own.

    renders: (renders, channels, frames). facts and renders are empty if the process did not come to its end.
    """

    exit_status: int
    facts: dict[str, Any]
    renders: NDArray[np.float32]
    stdout: str
    stderr: str


def hosted(
    bundle: Path,
    folder: Path,
    clip: NDArray[np.float32],
    raw: Mapping[int, float] | None = None,
    renders: int = 1,
    timeout_s: float = 60,
    witness: Path | None = None,
    **options: bool,
) -> Hosted:
    """Load the plugin in a child, set raw values by index, render the clip, read the settings back."""
    order = {
        "bundle": str(bundle), "raw": raw or {}, "renders": renders,
        "rate_hz": RATE_HZ, "block_frames": BLOCK_FRAMES,
        "ask_every_setting": False, "kill": False, "restore_state": False, **options,
    }  # fmt: skip
    np.save(folder / "clip.npy", clip)
    facts, rendered = folder / "facts.json", folder / "renders.npy"
    facts.unlink(missing_ok=True)
    rendered.unlink(missing_ok=True)
    environment = {**os.environ, **({"SWEEPER_WITNESS": str(witness)} if witness else {})}
    done = subprocess.run(
        [sys.executable, "-c", CHILD, json.dumps(order)],
        cwd=folder, env=environment, timeout=timeout_s, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return Hosted(
        done.returncode,
        json.loads(facts.read_text()) if facts.exists() else {},
        np.load(rendered) if rendered.exists() else np.empty((0, 0, 0), np.float32),
        done.stdout,
        done.stderr,
    )


def noise(channels: int = 2, frames: int = CLIP_FRAMES) -> NDArray[np.float32]:
    """A clip without a single silent frame, ±0.5 at most. Shape (channels, frames)."""
    return np.random.default_rng(7).uniform(0.05, 0.5, (channels, frames)).astype(np.float32)


SILENCE = np.zeros((2, CLIP_FRAMES), np.float32)


def ratio(level_db: float) -> float:
    return float(10 ** (level_db / 20))


@pytest.fixture(scope="module")
def bundles(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return plugin_builder.build_all(tmp_path_factory.mktemp("plugins"))


# Who they are


LOADABLE = [n for n in plugin_builder.RECIPES if not n.endswith("_load")]


@pytest.mark.parametrize("name", LOADABLE)
def test_a_plugin_has_its_name_its_maker_and_its_channels(
    bundles: dict[str, Path], tmp_path: Path, name: str
) -> None:
    channels = plugin_builder.RECIPES[name].channels
    one = hosted(bundles[name], tmp_path, np.zeros((channels, CLIP_FRAMES), np.float32))
    assert (one.exit_status, one.facts["name"], one.facts["maker"]) == (0, title_of(name), "Sweeper tests"), (
        one.stderr
    )
    assert one.renders.shape == (1, channels, CLIP_FRAMES)


def test_every_plugin_has_an_id_of_its_own() -> None:
    headers = [
        plugin_builder._info_header(2, False, title_of(n), {}).partition("PROBE_UNIQUE_ID")[2]
        for n in plugin_builder.RECIPES
    ]
    assert len(set(headers)) == len(headers)


def test_a_second_plugin_of_a_kind_has_another_name_and_id(
    bundles: dict[str, Path], tmp_path: Path
) -> None:
    other = build("gain", tmp_path, title="Probe Gain B", GAIN_DB=1.0)
    first, second = (hosted(bundle, tmp_path, SILENCE).facts for bundle in (bundles["gain"], other))
    assert (first["name"], second["name"]) == ("Probe Gain", "Probe Gain B")
    assert first["identifier"].rpartition("-")[2] != second["identifier"].rpartition("-")[2]


def test_a_stereo_clip_does_not_fit_a_mono_plugin(bundles: dict[str, Path], tmp_path: Path) -> None:
    refused = hosted(bundles["mono_gain"], tmp_path, noise(2))
    assert refused.exit_status == 1
    assert "does not support 2-channel output" in refused.stderr


# Known answers


@pytest.mark.parametrize("gain_db", ["drawn", "drawn again", 0])
def test_a_gain_is_the_one_it_was_built_with_and_the_one_it_is_set_to(tmp_path: Path, gain_db: float | str) -> None:
    gain_db = float(np.random.default_rng().uniform(-24, 24)) if isinstance(gain_db, str) else gain_db
    clip, raw = noise(), float(np.float32(0.65))
    one = hosted(build("gain", tmp_path, GAIN_DB=float(gain_db)), tmp_path, clip, raw={0: raw, 1: 1.0})
    expected = -ratio(gain_db + (-60 + 84 * raw)) * clip.astype(np.float64)
    np.testing.assert_allclose(one.renders[0], expected, rtol=1e-6)


def test_a_mono_gain_is_exact(bundles: dict[str, Path], tmp_path: Path) -> None:
    clip = noise(1)
    one = hosted(bundles["mono_gain"], tmp_path, clip, raw={0: 54 / 84})
    np.testing.assert_allclose(one.renders[0], ratio(-6) * clip.astype(np.float64), rtol=1e-6)


def test_an_honest_delay_is_taken_back_by_the_host(tmp_path: Path) -> None:
    clip = noise()
    one = hosted(build("delay_honest", tmp_path, DELAY_FRAMES=1000), tmp_path, clip)
    assert one.facts["latency_frames"] == 1000
    np.testing.assert_array_equal(one.renders[0], clip)


@pytest.mark.parametrize(("delay", "reported"), [(441, 64), (1, 0), (3000, 2999)])
def test_a_lying_delay_is_late_by_the_lie(tmp_path: Path, delay: int, reported: int) -> None:
    clip, lie = noise(), delay - reported
    bundle = build("delay_lying", tmp_path, DELAY_FRAMES=delay, REPORTED_FRAMES=reported)
    one = hosted(bundle, tmp_path, clip)
    assert one.facts["latency_frames"] == reported
    np.testing.assert_array_equal(one.renders[0][:, lie:], clip[:, :-lie])
    assert not one.renders[0][:, :lie].any()


def test_a_shaper_is_its_polynomial(bundles: dict[str, Path], tmp_path: Path) -> None:
    clip = noise()
    one = hosted(bundles["shaper"], tmp_path, clip, raw={0: 0.5, 1: 0.25})
    x = clip.astype(np.float64)
    np.testing.assert_allclose(one.renders[0], x + 0.25 * x**2 - 0.25 * x**3, rtol=1e-6)


def test_a_shaper_makes_the_harmonics_of_the_power_reduction_formulas(
    bundles: dict[str, Path], tmp_path: Path
) -> None:
    # sin^2 = (1 - cos 2w)/2 and sin^3 = (3 sin w - sin 3w)/4: DLMF 4.21.28 and 4.21.29.
    peak, cycles = 0.8, 64
    sine = peak * np.sin(2 * np.pi * cycles * np.arange(CLIP_FRAMES) / CLIP_FRAMES)
    one = hosted(bundles["shaper"], tmp_path, np.stack([sine, sine]).astype(np.float32), raw={0: 1.0, 1: 1.0})
    spectrum = np.abs(np.fft.rfft(one.renders[0][0].astype(np.float64))) * 2 / CLIP_FRAMES
    harmonics = spectrum[[cycles, 2 * cycles, 3 * cycles]]
    expected = [peak + 3 / 4 * 0.5 * peak**3, 0.5 * peak**2 / 2, 0.5 * peak**3 / 4]
    np.testing.assert_allclose(harmonics, expected, rtol=1e-5)


def test_a_slow_plugin_takes_its_multiple_of_real_time(tmp_path: Path) -> None:
    one = hosted(build("slow", tmp_path, TIMES_REAL_TIME=1.5), tmp_path, noise())
    assert one.facts["render_s"] >= 1.5 * CLIP_FRAMES / RATE_HZ
    np.testing.assert_array_equal(one.renders[0], noise())


# Settings


@pytest.mark.parametrize(("index", "heard"), [(0, [ratio(6), 1]), (1, [1, ratio(6)])])
def test_twin_names_are_told_apart_by_the_channel_they_move(
    bundles: dict[str, Path], tmp_path: Path, index: int, heard: list[float]
) -> None:
    clip = noise()
    one = hosted(bundles["twin_names"], tmp_path, clip, raw={index: 0.75})
    assert [name for name, *_ in one.facts["settings"]] == ["Band", "Band"]
    np.testing.assert_allclose(one.renders[0], np.array(heard)[:, None] * clip, rtol=1e-6)


def test_many_settings_are_as_many_as_asked_for(bundles: dict[str, Path], tmp_path: Path) -> None:
    names = [name for name, *_ in hosted(bundles["many_settings"], tmp_path, SILENCE).facts["settings"]]
    assert names == [f"Setting {number}" for number in range(1, 2001)]


def test_asking_every_setting_for_its_texts_is_what_makes_many_settings_slow_to_load(tmp_path: Path) -> None:
    bundle = build("many_settings", tmp_path, COUNT=200)
    asked, unasked = (hosted(bundle, tmp_path, SILENCE, ask_every_setting=ask) for ask in (True, False))
    assert asked.facts["load_s"] > 10 * unasked.facts["load_s"]


CONTINUOUS = 2**31 - 1
"""What pedalboard shows as the number of steps of a setting that has none."""


def test_choices_show_every_kind_of_setting(bundles: dict[str, Path], tmp_path: Path) -> None:
    raw = {0: 0.5, 1: 1.0, 2: 1.0, 3: 0.5, 5: 0.25}
    one = hosted(bundles["choices"], tmp_path, SILENCE, raw=raw)
    shown = [(name, unit, text, steps) for name, unit, _, text, steps in one.facts["settings"]]
    assert shown == [
        ("Character", "", "Warm", 3),
        ("Stages", "", "4", 4),
        ("Soft", "", "1.000000", 2),
        ("Frequency", "Hz", "10010.000000", CONTINUOUS),
        ("Meter", "", "0.000000", CONTINUOUS),
        ("Mix", "%", "25.000000", CONTINUOUS),
    ]


@pytest.mark.parametrize(("raw", "factor"), [(0.0, 1), (0.5, 0.5), (1.0, 0.25)])
def test_choices_are_heard_by_their_character(
    bundles: dict[str, Path], tmp_path: Path, raw: float, factor: float
) -> None:
    one = hosted(bundles["choices"], tmp_path, noise(), raw={0: raw})
    np.testing.assert_array_equal(one.renders[0], factor * noise())


# Faults

KILLED = {"segfault": -signal.SIGSEGV, "abort": -signal.SIGABRT, "exit0": 0}
AFTER_FRAMES = 8192


@pytest.mark.parametrize("moment", ["load", "set", "process"])
@pytest.mark.parametrize("fault", KILLED)
def test_a_deadly_fault_ends_the_process(
    bundles: dict[str, Path], tmp_path: Path, fault: str, moment: str
) -> None:
    raw = {0: 0.9} if moment == "set" else {}
    one = hosted(bundles[f"{fault}_{moment}"], tmp_path, noise(), raw=raw)
    assert (one.exit_status, one.facts) == (KILLED[fault], {}), one.stderr


@pytest.mark.parametrize("moment", ["load", "set", "process"])
def test_a_hang_lasts(bundles: dict[str, Path], tmp_path: Path, moment: str) -> None:
    raw = {0: 0.9} if moment == "set" else {}
    with pytest.raises(subprocess.TimeoutExpired):
        hosted(bundles[f"hang_{moment}"], tmp_path, noise(), raw=raw, timeout_s=HANG_TIMEOUT_S)


@pytest.mark.parametrize("fault", ["segfault", "abort", "exit0", "hang"])
def test_a_fault_waits_for_its_moment(bundles: dict[str, Path], tmp_path: Path, fault: str) -> None:
    unset = hosted(bundles[f"{fault}_set"], tmp_path, noise())
    silent = hosted(bundles[f"{fault}_process"], tmp_path, SILENCE, raw={0: 0.9})
    short = hosted(bundles[f"{fault}_process"], tmp_path, noise(frames=AFTER_FRAMES))
    np.testing.assert_array_equal(unset.renders[0], noise())
    np.testing.assert_array_equal(silent.renders[0], SILENCE)
    np.testing.assert_array_equal(short.renders[0], noise(frames=AFTER_FRAMES))


@pytest.mark.parametrize(("fault", "check"), [("nan", np.isnan), ("inf", np.isposinf)])
def test_a_sample_that_is_no_number_comes_after_the_frames_it_was_built_with(
    tmp_path: Path, fault: str, check: Any
) -> None:
    one = hosted(build(f"{fault}_process", tmp_path, AFTER_FRAMES=10_000), tmp_path, noise())
    np.testing.assert_array_equal(one.renders[0][:, :10_000], noise()[:, :10_000])
    assert check(one.renders[0][:, 10_000:]).all()


def test_noise_differs_each_time(bundles: dict[str, Path], tmp_path: Path) -> None:
    first = hosted(bundles["noise_process"], tmp_path, noise(), renders=2).renders
    again = hosted(bundles["noise_process"], tmp_path, noise()).renders
    added = np.concatenate([first, again]) - noise()
    assert not added[:, :, :AFTER_FRAMES].any()
    late = added[:, :, AFTER_FRAMES:]
    assert np.abs(late).max() <= 1e-3 + 1e-6
    # Uniform noise of peak a has the RMS a / sqrt(3); the difference of two independent ones a sqrt(2 / 3).
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert np.std(late[one] - late[other]) == pytest.approx(1e-3 * np.sqrt(2 / 3), rel=0.05)


def test_chatter_fills_both_streams(bundles: dict[str, Path], tmp_path: Path) -> None:
    one = hosted(bundles["chatter_process"], tmp_path, noise())
    lines = 200 * (CLIP_FRAMES - AFTER_FRAMES) // BLOCK_FRAMES
    assert one.stdout.count("on stdout\n") == lines
    assert one.stderr.count("on stderr\n") == lines
    np.testing.assert_array_equal(one.renders[0], noise())


def test_a_slow_load_takes_its_time(tmp_path: Path) -> None:
    one = hosted(build("slow_load", tmp_path, SECONDS=0.7), tmp_path, SILENCE)
    assert one.facts["load_s"] >= 2 * 0.7  # pedalboard makes one instance to ask its name and one to use


@pytest.mark.parametrize(("name", "kept"), [("refuse_set", 0.5), ("witness", 0.8)])
def test_a_refused_setting_shows_in_a_restored_state_and_not_before(
    bundles: dict[str, Path], tmp_path: Path, name: str, kept: float
) -> None:
    before = hosted(bundles[name], tmp_path, SILENCE, raw={0: 0.8})
    restored = hosted(bundles[name], tmp_path, SILENCE, raw={0: 0.8}, restore_state=True)
    assert before.facts["settings"][0][2] == pytest.approx(0.8)
    assert restored.facts["settings"][0][2] == pytest.approx(kept)


# The witness


def frames_run(log: Path) -> int:
    return sum(event.frames for event in read_witness(log) if event.event == "run")


@pytest.mark.parametrize(("kill", "exit_status"), [(False, 0), (True, -9)])
def test_a_witness_counts_every_frame_even_if_killed(
    bundles: dict[str, Path], tmp_path: Path, kill: bool, exit_status: int
) -> None:
    loaded, rendered = tmp_path / "loaded.log", tmp_path / "rendered.log"
    hosted(bundles["witness"], tmp_path, noise(), renders=0, witness=loaded)
    one = hosted(bundles["witness"], tmp_path, noise(), renders=3, kill=kill, witness=rendered)
    assert one.exit_status == exit_status
    assert frames_run(rendered) - frames_run(loaded) == 3 * CLIP_FRAMES


def test_a_witness_closes_its_books(bundles: dict[str, Path], tmp_path: Path) -> None:
    hosted(bundles["witness"], tmp_path, noise(), renders=2, witness=tmp_path / "witness.log")
    events = read_witness(tmp_path / "witness.log")
    last = [event for event in events if event.instance == events[-1].instance]
    assert [last[0].event, last[-1].event] == ["instantiate", "destruct"]
    totals: list[int] = []
    for event in last:
        if event.event == "activate":
            totals.append(0)
        elif event.event == "run":
            totals[-1] += event.frames
    assert [event.frames for event in last if event.event == "deactivate"] == totals
    assert totals.count(CLIP_FRAMES) == 2


def test_a_witness_tells_processes_and_instances_apart(bundles: dict[str, Path], tmp_path: Path) -> None:
    log = tmp_path / "witness.log"
    for _ in range(2):
        hosted(bundles["witness"], tmp_path, SILENCE, witness=log)
    made = [event for event in read_witness(log) if event.event == "instantiate"]
    assert len({event.pid for event in made}) == 2
    assert len({event.instance for event in made}) == len(made) == 4
