"""Chains to explore and what is known of their plugins, for tests of explorations without plugins."""

from __future__ import annotations

from pathlib import Path

from sweeper.chain import Chain, load_chain
from sweeper.chain.model import SettingRef
from sweeper.host.question import Found
from sweeper.plan.examined import Examined, key_of
from sweeper.plan.space import Space

#: Everything that can be in doubt at once.
EVERYTHING = """mix: a.wav
inserts:
  - name: colour
    any of: [{plugin: Valve, drive: raise Input}, {plugin: Iron, drive: lower Threshold}]
  - {name: glue, plugin: Comp}
buses: {name: lift, level: -12 dB, inserts: {name: air, plugin: EQ}}
output: {name: limiter, plugin: Brick}
vary:
  sequence: [[colour], [glue], [glue, colour]]
  glue.bypass: [on, off]
  lift.bypass: [off, on]
  colour.drive: [3 dB, 1 dB, 2 dB]
  glue.Mode: [Soft, Hard]
  glue.Ratio: {from: 2, to: 8}
  air.Gain: {from dialled: [2 dB, -1 dB]}
  limiter.Release: {from: 5 ms, to: 0.5 s, spacing: log}
  limiter.input trim: {from: 3 dB, to: 0 dB}
prefer: [crest highest]
explore: {variants: 60}
"""
#: A control of five steps, of which the range in EVERYTHING has three.
RATIO = ((0.0, "1"), (0.25, "2"), (0.5, "4"), (0.75, "8"), (1.0, "inf"))


def chain_of(folder: Path, text: str = EVERYTHING) -> Chain:
    """The chain of a text, its mix an empty file."""
    (folder / "a.wav").write_bytes(b"")
    (folder / "b.wav").write_bytes(b"")
    (folder / "c.yaml").write_text(text, encoding="utf-8")
    return load_chain(folder / "c.yaml")


def examined(chain: Chain, *lacking: tuple[tuple[str, str], SettingRef]) -> Examined:
    """Plugins that have every setting; the ends of glue.Ratio lie on steps, all other controls are continuous."""
    ends = {(("glue", ""), "Ratio", "", value): Found("Ratio", raw, RATIO)
            for axis in chain.vary if str(axis.ref) == "glue.Ratio"
            for value, raw in zip(axis.values, (0.25, 0.75), strict=True)}  # fmt: skip
    paths = {key_of(choice): choice.plugin for stage in chain.stages for choice in stage.choices}
    return Examined(paths, found=ends, lacking=frozenset(lacking))


def space_of(folder: Path, text: str = EVERYTHING) -> Space:
    """The space of a text."""
    chain = chain_of(folder, text)
    return Space(chain, examined(chain))
