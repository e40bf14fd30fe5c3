"""Every key that a chain file may hold, by place, and those that a later version will read."""

from __future__ import annotations

from sweeper.quantities import QUANTITIES

#: What is only counted or wanted gone, or says how well another can be told: bounded, never landed on.
BOUNDED = ("overs", "over_runs", "longest_over_ms", "dc_dbfs", "residue_floor_db", "distortion_floor_pct")
#: What can be landed on.
REACHED = tuple(quantity.name for quantity in QUANTITIES if quantity.key not in BOUNDED)

#: Place -> the keys read there. "range" is a `vary` entry written {from, to, steps}.
KEYS: dict[str, tuple[str, ...]] = {
    "chain": ("title", "mix", "mixes", "references", "inserts", "buses", "output", "rides", "vary", "reach", "limits",
              "prefer", "explore", "album", "audition", "print"),
    "mix": ("file", "sections", "settings from", "settings", "reach", "limits"),
    "stage": ("name", "plugin", "any of", "outside", "returned", "state", "channels", "settings", "input trim",
              "output trim", "blend", "bypass", "drive", "ceiling", "polarity", "latency", "tail",
              "instances"),
    "alternative": ("name", "plugin", "state", "channels", "settings", "input trim", "output trim", "blend", "drive",
                    "ceiling", "polarity", "latency", "tail", "instances"),
    "bus": ("name", "level", "inserts", "bypass"),
    "ride": ("name", "set", "by", "to", "in", "ramp"),
    "vary": ("sequence",),
    "range": ("from", "to", "steps", "spacing", "from dialled"),
    "reach": (*REACHED, "within", "by", "stop at"),
    "audition": ("match over", "keep"),
    "explore": ("variants", "seed", "stop after", "listen to"),
    "print": ("to", "title", "artist", "isrc", "start", "end", "fade in", "fade out"),
    "print spec": ("about", "format", "rate", "word", "dither", "ceiling", "as rendered", "bit rate", "quality",
                   "name"),
    "album file": ("title", "artist", "to", "name", "gap", "gaps in files", "tracks"),
    "track": ("run", "variant", "mix", "title", "artist", "isrc", "gap", "level", "start", "end", "fade in",
              "fade out"),
}  # fmt: skip

#: Place -> key -> what to do instead, for the keys of later versions.
NOT_BUILT: dict[str, dict[str, str]] = {
    "chain": {
        "rate": "take it out: each mix keeps its own rate",
    },
    "mix": {},
    "stage": {},
    "alternative": {},
    "bus": {},
    "ride": {},
    "vary": {},
    "range": {},
    "reach": {},
    "audition": {},
    "explore": {},
    "print": {},
    "print spec": {},
    "album file": {},
    "track": {},
}

#: How messages name the place of an unknown key.
PLACE_NAMES = {
    "chain": "", "mix": " in a mix", "stage": " in a stage", "alternative": " in an alternative",
    "bus": " in a bus", "ride": " in a ride",
    "vary": " in vary", "range": " in vary", "reach": " in reach", "audition": " in audition",
    "explore": " in explore", "print": " in print", "print spec": " in a print spec",
    "album file": " in an album file", "track": " in a track",
}  # fmt: skip
