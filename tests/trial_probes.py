"""Test plugins that do what plugins without a licence do: noise, beeps, gaps, silence, nothing at all."""

from __future__ import annotations

from pathlib import Path

import plugin_builder as builder

MODES = ("noise", "beep", "mute", "silent", "dry")


def trial_probe(target: Path, mode: str, every_s: float = 3.0, lasts_s: float = 0.2, level_dbfs: float = -20.0) -> Path:
    """target/Probe Trial MODE.vst3; see tests/plugins/trial.cpp."""
    title = f"Probe Trial {mode.title()}"
    constants: dict[str, builder.Constant] = {"MODE": mode, "EVERY_S": every_s, "LASTS_S": lasts_s}
    constants["LEVEL_DBFS"] = level_dbfs
    library = builder._plugin_library(builder.Recipe("trial"), title, constants, builder._user_cache())
    bundle = target / f"{title}.vst3"
    builder._put_in_place(library, bundle / "Contents" / f"{builder._processor()}-linux" / f"{title}.so")
    return bundle


def trial_probes(folder: Path) -> dict[str, Path]:
    """Every kind, by its mode, with what it does in 0.2 s of every 3 s: noise at -20, beeps at -8 dBFS."""
    return {mode: trial_probe(folder, mode, level_dbfs=-8.0 if mode == "beep" else -20.0) for mode in MODES}
