"""Variants tried on excerpts, before any is rendered: what is handed out, and what the renders learn from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from sweeper.chain.model import Chain
from sweeper.errors import AudioFileError
from sweeper.meter.gating_blocks import TENTHS_PER_S
from sweeper.plan.planned import Plan, planned
from sweeper.plan.storing import Costs
from sweeper.plan.tree import tree
from sweeper.plan.variants import Variant
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, Solved, Taught
from sweeper.render.orders import Measured
from sweeper.render.ready import Ready
from sweeper.units import clock

#: What a worker does with a job that is tried on excerpts.
LISTEN = "sweeper.render.listen_task:listen"
#: Where the run folder keeps what was found.
FOUND = "excerpts"
#: A mix that is shorter has no excerpts that stand for it.
SHORTEST_S = 60.0
REMEDY = "write `listen to: whole` in 'explore'"


def refuse_without_excerpts(chain: Chain, mixes: Sequence[Measured]) -> None:
    """Raises AudioFileError for a mix that excerpts cannot stand for, where the chain file wants to listen to some."""
    if chain.explore is None or not chain.explore.excerpts:
        return
    for written, mix in zip(chain.mixes, mixes, strict=True):
        file = mix.file
        if file.duration_s < SHORTEST_S:
            raise AudioFileError(f"{written.written} lasts {clock(file.duration_s)}: too short for excerpts, which "
                                 f"take {clock(SHORTEST_S)} at least", REMEDY)  # fmt: skip
        if file.format.rate_hz % TENTHS_PER_S:
            raise AudioFileError(f"{written.written} has {file.format.rate_hz} Hz: a tenth of a second is no whole "
                                 "number of samples, and excerpts are cut by tenths", REMEDY)  # fmt: skip
        if mix.measurements["loudness_lufs"] is None:
            raise AudioFileError(f"{written.written} has no loudness: no excerpt stands for it", REMEDY)


def plan_of_tries(ready: Ready, left: tuple[Variant, ...], taught_by: Mapping[str, str | None], workers: int) -> Plan:
    """The plan for trying some variants: each goes through its whole chain from the mix on, and nothing is stored."""
    grown = tree(left, ready.facts)
    return planned(ready.found, left, grown, Costs({}, {}, {}), frozenset(), 0, workers, taught_by)


def place_of_try(folder: RunFolder, variant: str) -> Path:
    """Beside what a try would render, if it rendered anything."""
    return folder.subfolder(FOUND) / f"{variant}.wav"


def taught_by_tries(left: Mapping[str, Job], solved: Mapping[str, Sequence[Solved]]) -> dict[str, Job]:
    """The jobs, each starting where its own try came to rest. solved: of each try, by the variant's id."""
    return {id: _taught(job, solved.get(id, ())) for id, job in left.items()}


def _taught(job: Job, solved: Sequence[Solved]) -> Job:
    if not solved or not all(one.ending.teaches for one in solved):
        return job
    pairs = zip(job.reach, solved, strict=True)
    return replace(job, reach=tuple(replace(order, taught=Taught(s.at, s.slope, s.beyond)) for order, s in pairs))
