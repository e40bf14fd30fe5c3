"""The keys of a chain file, written down once more: adding or losing one must be meant."""

from __future__ import annotations

import pytest

from sweeper.chain import KEYS, NOT_BUILT

READ = {
    "chain": {"title", "mix", "mixes", "references", "inserts", "buses", "output", "rides", "vary", "reach", "limits",
              "prefer", "explore", "album", "audition", "print"},
    "mix": {"file", "sections", "settings from", "settings", "reach", "limits"},
    "stage": {"name", "plugin", "any of", "outside", "returned", "state", "channels", "settings", "input trim",
              "output trim", "blend", "bypass", "drive", "ceiling", "latency", "tail", "polarity", "instances"},
    "alternative": {"name", "plugin", "state", "channels", "settings", "input trim", "output trim", "blend", "drive",
                    "ceiling", "latency", "tail", "polarity", "instances"},
    "bus": {"name", "level", "inserts", "bypass"},
    "ride": {"name", "set", "by", "to", "in", "ramp"},
    "vary": {"sequence"},
    "range": {"from", "to", "steps", "spacing", "from dialled"},
    "reach": {"loudness", "momentary max", "short-term max", "loudness range", "true peak", "sample peak", "crest",
              "rms", "plr", "correlation", "side/mid", "balance", "mono loss", "psr", "crest.loud",
              "correlation.worst", "tilt", "noise floor", "attenuation", "attenuation.median", "attenuation.most",
              "attenuation.share", "residue", "distortion", "second harmonic", "third harmonic", "within", "by",
              "stop at"},
    "audition": {"match over", "keep"},
    "explore": {"variants", "seed", "stop after", "listen to"},
    "print": {"to", "title", "artist", "isrc", "start", "end", "fade in", "fade out"},
    "print spec": {"about", "format", "rate", "word", "dither", "ceiling", "as rendered", "bit rate", "quality",
                   "name"},
    "album file": {"title", "artist", "to", "name", "gap", "gaps in files", "tracks"},
    "track": {"run", "variant", "mix", "title", "artist", "isrc", "gap", "level", "start", "end", "fade in",
              "fade out"},
}  # fmt: skip
REFUSED = {
    "chain": {"rate"},
    "mix": set[str](),
    "stage": set[str](),
    "alternative": set[str](),
    "bus": set[str](),
    "ride": set[str](),
    "vary": set[str](),
    "range": set[str](),
    "reach": set[str](),
    "audition": set[str](),
    "explore": set[str](),
    "print": set[str](),
    "print spec": set[str](),
    "album file": set[str](),
    "track": set[str](),
}
AROUND = {"chain": "{key}: x\n"}  # where a key of each place stands in a file
VALID = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick}\n"


def test_the_keys_read_are_these():
    assert {place: set(keys) for place, keys in KEYS.items()} == READ


def test_the_keys_refused_are_these():
    assert {place: set(keys) for place, keys in NOT_BUILT.items()} == REFUSED


@pytest.mark.parametrize(("place", "key"), [(p, k) for p, keys in sorted(REFUSED.items()) for k in sorted(keys)])
def test_a_key_of_a_later_version_is_refused_in_words_and_alone(problems, place, key):
    (problem,) = problems(VALID + AROUND[place].format(key=key))
    assert problem.what == f"'{key}' is not built in this version (0.1)"
    assert problem.remedy == NOT_BUILT[place][key]
    assert problem.remedy
