"""The commented chain file that an engineer starts from. It runs as it stands, with built-in effects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.units import clock

GOAL_LUFS = -14


@dataclass(frozen=True)
class TemplateMix:
    """A mix as the new file tells of it. path: as to be written. loudness_lufs: None where it has none."""

    path: str
    duration_s: float
    loudness_lufs: float | None
    rate_hz: int


def template(mixes: Sequence[TemplateMix], title: str) -> str:
    """A chain file for the mixes (at least one), explained line by line, that loads and runs unchanged."""
    if not mixes:
        raise ValueError("a chain file needs at least one mix")
    album = ALBUM if len(mixes) > 1 else ""
    return (
        f"# A mastering chain. Text after # is a note to you. Change what you like, then\n"
        f"#     sweeper check THIS-FILE     counts the variants and finds mistakes\n"
        f"#     sweeper run THIS-FILE       renders, measures and level-matches every one\n"
        f"# `sweeper plugins` lists your own plugins, `sweeper plugins NAME` a plugin's settings.\n\n"
        f"title: {yaml_text(title)}\n{_mixes(mixes)}{album}{CHAIN}"
    )


def note_text(text: str) -> str:
    """A text behind a `#`: on one line, whatever it holds."""
    return "".join(character if character.isprintable() else " " for character in text)


def yaml_text(text: str) -> str:
    """The text in double quotes, safe whatever is in it."""
    escaped = "".join(_escaped(character) for character in text)
    return f'"{escaped}"'


def _escaped(character: str) -> str:
    if character in '"\\':
        return "\\" + character
    if character.isprintable() or character == "\u00a0":
        return character
    return f"\\U{ord(character):08x}"


def _mixes(mixes: Sequence[TemplateMix]) -> str:
    if len(mixes) == 1:
        return f"mix: {yaml_text(mixes[0].path)}   # {_told(mixes[0])}\n{SECTIONS}"
    lines = [f"  - {yaml_text(mix.path)}   # {_told(mix)}\n" for mix in mixes]
    return "mixes:\n" + "".join(lines)


def _told(mix: TemplateMix) -> str:
    loudness = "no loudness" if mix.loudness_lufs is None else f"{mix.loudness_lufs:.1f} LUFS"
    return f"{clock(mix.duration_s)}, {loudness}, {mix.rate_hz / 1000:g} kHz"


SECTIONS = """\
# To name parts of the mix, and to match loudness over them, write instead (`sweeper sections MIX` proposes some):
# mix: {file: NAME.wav, sections: {verse: "0:20-0:40", last chorus: "2:50-3:10"}}
# audition: {match over: [last chorus]}
"""

ALBUM = """\
# An instrumental, clean or TV mix with what is solved for its main mix: {file: NAME.wav, settings from: MAIN.wav}
# Something else for one mix: {file: NAME.wav, settings: {limiter.release ms: 80 ms}, reach: {loudness: -16 LUFS}}
album: each to target   # every mix lands on the loudness below by itself; or: keep relations
"""

CHAIN = f"""
inserts:   # in the order the music passes through them
  - name: low cut
    plugin: builtin:HighpassFilter   # builtin: effects come with sweeper
    settings: {{cutoff frequency hz: 25 Hz}}
  # A plugin of your own, by the name that your workstation shows, set by what its window shows:
  # - name: glue
  #   plugin: "My Compressor"
  #   channels: mid/side             # or stereo (if left out), left/right, mid, side
  #   state: states/glue.vstpreset   # a preset file to start from
  #   settings: {{mid: {{Ratio: 1.5}}, side: {{Ratio: 2}}}}
  #   output trim: 0.5 dB
  #   bypass: on                     # keep it in the file, leave it out of the sound
  #   tail: 2 s                      # it rings on: the sound gets this much longer
  #   latency: 512 samples           # its true delay, where it tells a wrong one
  #   polarity: inverted             # for a plugin that comes out upside down
  # Two plugins for one place; every variant is made with each of them:
  # - name: colour
  #   any of: [{{plugin: "Valve Colour", drive: raise Input}}, {{plugin: "Iron Colour", drive: raise Amount}}]
  #   blend: 70 %                    # so much of the plugin, the rest is what went in
  #   instances: 1                   # never loaded more than once at a time
  # Something on your desk; the run writes what is to be sent there, and goes on once it has come back:
  # - name: tape
  #   outside: the tape machine
  #   returned: from tape            # a folder in which that is looked for as well

# Ways of their own from the last insert, added before the output stages:
# buses:
#   - name: lift
#     level: -12 dB
#     inserts: [{{name: lift comp, plugin: "My Compressor"}}]

output:    # the last stages: what sets loudness and peak
  - name: limiter
    plugin: builtin:BrickwallLimiter
    drive: raise input trim          # which control makes it louder, and which way
    ceiling: ceiling db              # which control is its ceiling
    settings: {{ceiling db: -1.2 dB, release ms: 100 ms, true peak: on}}

# What moves in some parts of the music; by: so much from where it stands, to: a value.
# rides:
#   - name: last lift
#     set: lift.level
#     by: 1.5 dB
#     in: [last chorus]              # sections of the mix, or times: "2:50-3:10"
#     ramp: 500 ms                   # there by the time it begins, and on the way back when it ends

# What is in doubt. Every combination is rendered, all at the loudness below.
# vary:
#   limiter.release ms: [50 ms, 100 ms, 200 ms]
#   low cut.output trim: {{from: -2 dB, to: 0 dB, steps: 3}}
#   low cut.cutoff frequency hz: {{from: 20 Hz, to: 40 Hz, steps: 3, spacing: log}}
#   low cut.bypass: [off, on]
#   colour.drive: {{from dialled: [0 % travel, 5 % travel]}}   # more than its state or its settings have
#   colour.blend: [50 %, 100 %]
#   rides.last lift.by: [0 dB, 1.5 dB]
#   sequence: [[glue], [colour], [glue, colour]]             # which inserts are in, and in which order

reach:     # solved for every variant
  - loudness: {GOAL_LUFS} LUFS
    within: 0.1 LU
    by: limiter.drive
    # stop at: [crest >= 8 dB]       # goes as far as this allows, and says so
  # Solved together with the loudness: never above, and no more than 0.1 dB below.
  # - true peak: at most -1 dBTP
  #   by: limiter.ceiling

# What a variant must keep to. The others stay in the table, marked.
# limits: [true peak <= -1 dBTP, mono loss <= 1 LU]

# What ranks the rest. Left out: in the file's order, use your ears.
# prefer: [crest highest]
# With audition: {{keep: 6}} as well, only the six best of each mix keep their sound files.
# Too much in doubt for every combination? So many are tried then, each chosen by what came of those before:
# explore: {{variants: 60, seed: 1, stop after: 24}}
# With listen to: excerpts as well, they are tried on parts of the mix, and only the best rendered.

# Records to compare with, measured as they are.
# references: [a-record-the-client-likes.wav]

# What `sweeper print` hands over of the one that you choose; with title: and isrc: where there is one mix.
# print: {{to: [disc, archive], artist: NAME, start: "0:00.2", end: "3:41", fade in: 10 ms, fade out: 3 s}}
"""
