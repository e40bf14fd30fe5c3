"""Every key that a chain file may hold, by place, and those that a later version will read."""

from __future__ import annotations

#: Place -> the keys read there. "range" is a `vary` entry written {from, to, steps}.
KEYS: dict[str, tuple[str, ...]] = {
    "chain": ("title", "mix", "mixes", "references", "inserts", "output", "vary", "reach", "limits",
              "prefer", "album", "audition"),
    "mix": ("file", "sections"),
    "stage": ("name", "plugin", "state", "channels", "settings", "input trim", "output trim", "bypass",
              "drive", "ceiling"),
    "range": ("from", "to", "steps", "spacing"),
    "reach": ("loudness", "true peak", "within", "by", "stop at"),
    "audition": ("match over",),
}  # fmt: skip

TAKE_OUT = "take it out for now"
#: Place -> key -> what to do instead, for the keys of later versions.
NOT_BUILT: dict[str, dict[str, str]] = {
    "chain": {
        "buses": TAKE_OUT,
        "rides": TAKE_OUT,
        "outside": TAKE_OUT,
        "explore": "take it out: every combination of 'vary' is rendered",
        "print": TAKE_OUT,
        "rate": "take it out: each mix keeps its own rate",
    },
    "mix": {},
    "stage": {
        "any of": "keep one of them here, and write one chain file for each of the others",
        "blend": "take it out; where the plugin has its own mix control, set that",
        "outside": TAKE_OUT,
        "latency": TAKE_OUT,
        "tail": TAKE_OUT,
        "instances": TAKE_OUT,
    },
    "vary": {"sequence": "write one chain file for each order of the inserts"},
    "range": {"from dialled": "write the values themselves, e.g. [0 dB, 1 dB, 2 dB]"},
    "reach": {},
    "audition": {"keep": TAKE_OUT},
}

#: How messages name the place of an unknown key.
PLACE_NAMES = {
    "chain": "", "mix": " in a mix", "stage": " in a stage", "vary": " in vary", "range": " in vary",
    "reach": " in reach", "audition": " in audition",
}  # fmt: skip
