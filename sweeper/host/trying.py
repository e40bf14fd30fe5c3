"""Loading one installed plugin to see whether it loads. Runs in workers only."""

from __future__ import annotations

import time

from sweeper.errors import PluginError
from sweeper.host.effect import channels_of, open_effect
from sweeper.host.place import parted
from sweeper.host.tried import Loads
from sweeper.host.vst3 import names_in
from sweeper.workers import Report

_RATE_HZ, _BLOCK_FRAMES = 48000, 1024


def try_plugin(argument: tuple[str, float], report: Report) -> Loads | tuple[str, ...]:
    """Load the plugin at a place. argument: the place, patience in seconds.

    Returns the names of the plugins in a file that holds several, where the place does not say which.
    """
    place, patience_s = argument
    file, inner = parted(place)
    report.phase("loading", patience_s)
    started = time.perf_counter()
    try:
        effect = open_effect(place)
    except PluginError:
        names = () if inner else names_in(file)
        if len(names) < 2:
            raise
        return names
    seconds = float(f"{time.perf_counter() - started:.3g}")
    report.phase("processing silence", patience_s)
    return Loads(
        effect.name, effect.maker, effect.version, effect.identifier, effect.category,
        channels_of(effect, _RATE_HZ, _BLOCK_FRAMES), effect.latency_frames,
        sum(control.settable for control in effect.controls), seconds,
    )  # fmt: skip
