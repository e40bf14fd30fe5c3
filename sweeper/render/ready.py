"""Everything that is known before a plan is made, and the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.audio import AudioFormat
from sweeper.chain.model import Chain
from sweeper.plan.examine import Examined, examine
from sweeper.plan.planned import Plan, planned
from sweeper.plan.tree import Facts, tree
from sweeper.plan.variants import Variant, variants
from sweeper.render.costs import Speeds, costs, speeds
from sweeper.render.desk import Desk
from sweeper.render.facts import facts_of, known_files
from sweeper.render.job import BLOCK_FRAMES, KnownFile
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.render.sources import measured, measured_mixes


@dataclass(frozen=True)
class Ready:
    """A chain with its mixes measured and its plugins examined. found: every variant that it asks for.

    known: the files of plugins and states, by path, as they are now.
    """

    chain: Chain
    mixes: tuple[Measured, ...]
    references: tuple[Measured, ...]
    examined: Examined
    found: tuple[Variant, ...]
    facts: Facts
    known: Mapping[str, KnownFile]


def prepared(chain: Chain, desk: Desk) -> Ready:
    """Measure the mixes, load every plugin once, and spell out the variants. Raises ChainFileError, AudioFileError."""
    mixes = measured_mixes(chain, desk.pool)
    formats = dict.fromkeys(AudioFormat(m.file.format.channels, m.file.format.rate_hz) for m in mixes)
    examined = examine(chain, list(formats), desk.pool, BLOCK_FRAMES, desk.patience_s)
    found = variants(chain, examined)
    references = measured([MeasureOrder(r.file, {}) for r in chain.references], desk.pool)
    known = known_files(found)
    facts = facts_of(found, [m.audio_sha256 for m in mixes], known)
    return Ready(chain, tuple(mixes), tuple(references), examined, found, facts, known)


def speeds_of(ready: Ready, desk: Desk, strict: bool) -> Speeds:
    """How fast the stages run here. strict: PluginError for a stage that fails on noise, else a figure is assumed."""
    remembered = desk.store.folder if desk.store.limit_bytes else None
    return speeds(ready.found, ready.mixes, ready.facts, remembered, desk.pool, BLOCK_FRAMES, desk.patience_s, strict)


def plan_of(ready: Ready, todo: tuple[Variant, ...], tried: Speeds, desk: Desk) -> Plan:
    """The plan for what is left to do, with what the store holds already."""
    grown = tree(todo, ready.facts)
    there = frozenset(key for key in grown.steps if desk.store.has(key))
    dear = costs(grown, ready.mixes, tried)
    return planned(ready.found, todo, grown, dear, there, desk.store.limit_bytes, desk.workers)
