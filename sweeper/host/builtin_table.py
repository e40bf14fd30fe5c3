"""The built-in effects: what each is called, and its settings with units and ranges.

The effects are the hosting library's own; this table is what makes them look like any other plugin. Ranges
are ours, chosen wide enough for mastering; the library itself states none.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BuiltinSetting:
    """One setting. attribute: its name in the library. choices: texts of a choice, ("off", "on") for a switch.

    low, high: the range of a number, in `unit`. restart: True when a change needs a fresh instance.
    """

    attribute: str
    unit: str = ""
    low: float = 0.0
    high: float = 1.0
    choices: tuple[str, ...] = ()
    restart: bool = False

    @property
    def name(self) -> str:
        """The name shown: the attribute with spaces."""
        return self.attribute.replace("_", " ")


@dataclass(frozen=True)
class Builtin:
    """One built-in effect."""

    name: str
    category: str
    settings: tuple[BuiltinSetting, ...]
    note: str = ""


def _db(attribute: str, low: float, high: float) -> BuiltinSetting:
    return BuiltinSetting(attribute, "dB", low, high)


def _ms(attribute: str, low: float, high: float) -> BuiltinSetting:
    return BuiltinSetting(attribute, "ms", low, high)


def _number(attribute: str, low: float, high: float) -> BuiltinSetting:
    return BuiltinSetting(attribute, "", low, high)


_CUTOFF = BuiltinSetting("cutoff_frequency_hz", "Hz", 10.0, 20000.0)
_BELL = (_CUTOFF, _db("gain_db", -24.0, 24.0), _number("q", 0.05, 20.0))
_GATE = (_db("threshold_db", -100.0, 0.0), _number("ratio", 1.0, 100.0), _ms("attack_ms", 0.1, 500.0),
         _ms("release_ms", 1.0, 5000.0))  # fmt: skip
_SWAY = (BuiltinSetting("rate_hz", "Hz", 0.01, 20.0), _number("depth", 0.0, 1.0))
_MIX = (_number("feedback", 0.0, 0.95), _number("mix", 0.0, 1.0))
_PER_CHANNEL = "detects each channel by itself: a loud left leaves the right alone, so the image moves"

BUILTINS: tuple[Builtin, ...] = (
    Builtin("Bitcrush", "colour", (_number("bit_depth", 1.0, 32.0),)),
    Builtin("BrickwallLimiter", "limiter", (
        _db("ceiling_db", -24.0, 0.0), _ms("release_ms", 1.0, 2000.0),
        BuiltinSetting("lookahead_ms", "ms", 0.1, 50.0, restart=True),
        BuiltinSetting("true_peak", choices=("off", "on"), restart=True),
    ), "no threshold: drive it by its input trim; true peak on still overshoots by some tenths of a dB"),
    Builtin("Chorus", "modulation", (*_SWAY, _ms("centre_delay_ms", 1.0, 99.0), *_MIX)),
    Builtin("Clipping", "colour", (_db("threshold_db", -60.0, 0.0),)),
    Builtin("Compressor", "dynamics", (
        _db("threshold_db", -60.0, 0.0), _number("ratio", 1.0, 100.0), _ms("attack_ms", 0.1, 500.0),
        _ms("release_ms", 1.0, 5000.0),
    ), _PER_CHANNEL),
    Builtin("Delay", "delay", (BuiltinSetting("delay_seconds", "s", 0.0, 10.0), *_MIX)),
    Builtin("Distortion", "colour", (_db("drive_db", 0.0, 60.0),)),
    Builtin("Gain", "level", (_db("gain_db", -60.0, 60.0),)),
    Builtin("HighShelfFilter", "eq", _BELL),
    Builtin("HighpassFilter", "eq", (_CUTOFF,)),
    Builtin("Invert", "level", ()),
    Builtin("LadderFilter", "eq", (
        BuiltinSetting("mode", choices=("LPF12", "HPF12", "BPF12", "LPF24", "HPF24", "BPF24")),
        BuiltinSetting("cutoff_hz", "Hz", 10.0, 20000.0), _number("resonance", 0.0, 1.0), _number("drive", 1.0, 100.0),
    )),
    Builtin("Limiter", "limiter", (_db("threshold_db", -60.0, 0.0), _ms("release_ms", 1.0, 5000.0)),
            "adds make-up gain and clips at full scale"),
    Builtin("LowShelfFilter", "eq", _BELL),
    Builtin("LowpassFilter", "eq", (_CUTOFF,)),
    Builtin("NoiseGate", "dynamics", _GATE, _PER_CHANNEL),
    Builtin("PeakFilter", "eq", _BELL),
    Builtin("Phaser", "modulation", (*_SWAY, BuiltinSetting("centre_frequency_hz", "Hz", 20.0, 20000.0), *_MIX)),
    Builtin("Reverb", "reverb", tuple(
        _number(attribute, 0.0, 1.0)
        for attribute in ("room_size", "damping", "wet_level", "dry_level", "width", "freeze_mode")
    )),
)  # fmt: skip
BY_NAME = {builtin.name: builtin for builtin in BUILTINS}
PREFIX = "builtin:"
