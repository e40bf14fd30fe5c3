"""One plugin instance, of whatever kind, and how it is opened. Imported in workers only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Protocol

import numpy as np

from sweeper.errors import PluginError, StateError
from sweeper.host.builtin import BuiltinEffect
from sweeper.host.builtin_table import PREFIX
from sweeper.host.control import Control
from sweeper.host.vst3 import Vst3Plugin


class Effect(Protocol):
    """What the stage needs of a plugin instance."""

    name: str
    maker: str
    version: str
    identifier: str
    category: str
    note: str

    @property
    def controls(self) -> Sequence[Control]:
        """Every control, in the plugin's own order."""
        ...

    @property
    def latency_frames(self) -> int:
        """The delay it reports, in frames."""
        ...

    def told_positions(self) -> Mapping[int, float]:
        """Where the plugin itself says that its controls stand, by index, after silence has settled them."""
        ...

    def reset(self) -> None:
        """Forget all audio heard so far."""
        ...

    def process(self, block: np.ndarray, rate_hz: int, block_frames: int) -> np.ndarray:
        """Run (channels, frames) float32 through."""
        ...


def open_effect(path: str, state: Path | None = None, alone: bool = False) -> Effect:
    """Load the plugin at `path` ("builtin:NAME" for a built-in one), with a saved state where one is given.

    alone: no second instance of it may be loaded beside this one. Raises PluginError or StateError.
    """
    if path.startswith(PREFIX):
        if state is not None:
            raise StateError(f"{path} takes no state file", "write its settings into the chain file")
        return BuiltinEffect(path)
    plugin = Vst3Plugin(path)
    if state is not None:
        plugin.load_state(state, alone)
    return plugin


def settle(effect: Effect, channels: int, rate_hz: int, block_frames: int) -> None:
    """Run a block of silence, so that the plugin takes up what was set."""
    effect.process(np.zeros((channels, block_frames), np.float32), rate_hz, block_frames)


def channels_of(effect: Effect, rate_hz: int, block_frames: int) -> int:
    """How many channels the plugin takes, 2 or 1, tried with a block of silence.

    Raises PluginError when it takes neither.
    """
    refusal: ValueError | None = None
    for channels in (2, 1):
        try:
            settle(effect, channels, rate_hz, block_frames)
        except ValueError as exc:
            refusal = exc
        else:
            return channels
    raise PluginError(f"{effect.name} takes neither one nor two channels: {refusal}",
                      "use a mono or stereo version of it")  # fmt: skip
