"""What workers do for the tests with saved states: save one, load one, say what stands then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.host.deaf import deaf
from sweeper.host.effect import channels_of, open_effect
from sweeper.host.knob import Knob
from sweeper.host.setup import StageSetup
from sweeper.host.stage import HostedStage
from sweeper.host.vst3 import Vst3Plugin
from sweeper.workers import Report


@dataclass(frozen=True)
class Saving:
    """Save the state of the plugin at `path` with controls at `positions` by name; heard: blocks of noise it hears."""

    path: str
    file: Path
    positions: Mapping[str, float] = field(default_factory=dict)
    everything: bool = False
    heard: int = 0


def saved(order: Saving, report: Report) -> bytes:
    """Write the state file, and give what is in it."""
    plugin = Vst3Plugin(order.path)
    plugin.settle()
    chance = np.random.default_rng(7)
    for control in plugin.controls:
        if order.everything and control.settable:
            steps = max(1, control.steps - 1)
            control.put(round(chance.uniform(0.1, 0.9) * steps) / steps if control.steps else chance.uniform(0.1, 0.9))
        elif control.name in order.positions:
            control.put(order.positions[control.name])
    for _ in range(20):
        plugin.settle()
    channels = channels_of(plugin, 44100, 1024)
    for _ in range(order.heard):
        noise = chance.standard_normal((channels, 1024)).astype(np.float32)
        plugin.process(np.float32(0.2) * noise, 44100, 1024)
    order.file.write_bytes(plugin.save_state())
    return order.file.read_bytes()


def restored(argument: tuple[str, Path, bool], report: Report) -> dict[str, float]:
    """Where the plugin's settings stand by its own word once a state is loaded, by name."""
    path, file, alone = argument
    plugin = Vst3Plugin(path)
    plugin.load_state(file, alone)
    told = plugin.told_positions()
    return {control.name: told[control.index] for control in plugin.controls if control.settable}


def saved_again(argument: tuple[str, Path, bool], report: Report) -> bytes:
    """What the plugin saves when it has been given a state."""
    path, file, alone = argument
    plugin = Vst3Plugin(path)
    plugin.load_state(file, alone)
    return plugin.save_state()


def deaf_ones(path: str, report: Report) -> set[str]:
    """The names of the controls that take no value."""
    effect = open_effect(path)
    found = deaf(effect, effect.controls, channels_of(effect, 44100, 1024), 44100, 1024)
    return {control.name for control in effect.controls if control.index in found}


def first_frame(argument: tuple[StageSetup, str, float], report: Report) -> float:
    """What a stage makes of a constant 1.0 in its first frame, after a knob was turned to a value."""
    setup, name, value = argument
    stage = HostedStage(setup, AudioFormat(2, 44100), 1024)
    Knob(stage, name, "").turn(value)
    stage.reset()
    return float(stage.push(np.ones((2, 1024), np.float32))[0, 0])
