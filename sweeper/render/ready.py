"""Everything that is known before a plan is made, and the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.chain.model import Chain
from sweeper.plan.examine import Examined, examine
from sweeper.plan.exploration import covering
from sweeper.plan.planned import Plan, planned
from sweeper.plan.tree import Facts, tree
from sweeper.plan.variants import Variant, variants
from sweeper.render.costs import Speeds, also_of, costs, speeds
from sweeper.render.desk import Desk
from sweeper.render.facts import facts_of, known_files
from sweeper.render.folder import RunFolder
from sweeper.render.job import BLOCK_FRAMES, KnownFile
from sweeper.render.jobs import mix_file
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.render.outside import brought_back, goes_out
from sweeper.render.sources import measured, measured_mixes


@dataclass(frozen=True)
class Ready:
    """A chain with its mixes measured and its plugins examined. found: every variant that it asks for, or of an
    exploration those asked for so far. samples: variants in which every stage and each of its alternatives comes up:
    all that are found, or of an exploration a few.

    known: the files of plugins and states, by path, as they are now. outside: the steps that came back from outside, by
    key, with the folder where each lies.
    """

    chain: Chain
    mixes: tuple[Measured, ...]
    references: tuple[Measured, ...]
    examined: Examined
    found: tuple[Variant, ...]
    samples: tuple[Variant, ...]
    facts: Facts
    known: Mapping[str, KnownFile]
    outside: Mapping[str, Path] = field(default_factory=dict)


def prepared(chain: Chain, desk: Desk) -> Ready:
    """Measure the mixes, load every plugin once, and spell out the variants. Raises ChainFileError, AudioFileError."""
    mixes = measured_mixes(chain, desk.pool)
    formats = dict.fromkeys(AudioFormat(m.file.format.channels, m.file.format.rate_hz) for m in mixes)
    examined = examine(chain, list(formats), desk.pool, BLOCK_FRAMES, desk.patience_s)
    found = () if chain.explore else variants(chain, examined)
    samples = covering(chain, examined) if chain.explore else found
    references = measured([MeasureOrder(r.file, {}) for r in chain.references], desk.pool)
    known = known_files(samples)
    facts = facts_of(samples, [m.audio_sha256 for m in mixes], known)
    return Ready(chain, tuple(mixes), tuple(references), examined, found, samples, facts, known)


def speeds_of(ready: Ready, desk: Desk, strict: bool) -> Speeds:
    """How fast the stages run here. strict: PluginError for a stage that fails on noise, else a figure is assumed."""
    remembered = desk.store.folder if desk.store.limit_bytes else None
    return speeds(ready.samples, ready.mixes, ready.facts, remembered, desk.pool, BLOCK_FRAMES, desk.patience_s, strict)


def plan_of(ready: Ready, left: tuple[Variant, ...], tried: Speeds, desk: Desk,
            taught_by: Mapping[str, str | None] | None = None) -> Plan:  # fmt: skip
    """The plan for what is left to do, with what the store holds already. taught_by: None = all that is found tells."""
    grown = tree(left, ready.facts)
    there = frozenset(key for key in grown.steps if key in ready.outside or desk.store.has(key))
    dear = costs(grown, ready.mixes, also_of(tried, left))
    return planned(ready.found, left, grown, dear, there, desk.store.limit_bytes, desk.workers, taught_by)


def with_what_came_back(ready: Ready, plan: Plan, folder: RunFolder, desk: Desk) -> tuple[Ready, Plan]:
    """What is sent out is written, what has come back taken in, and the rest planned from there.

    Changes nothing where no stage is outside. Raises AwaitingReturn while something is missing.
    """
    if not goes_out(ready.found):
        return ready, plan
    files = [mix_file(mix) for mix in ready.mixes]
    left = tuple(plan.variants.values())
    back = brought_back(ready.chain, ready.found, ready.facts, files, ready.known, folder, desk)
    ready = replace(ready, facts=back.facts, outside=back.steps)
    return ready, plan_of(ready, left, speeds_of(ready, desk, strict=False), desk, plan.teachers)
