"""From variants to jobs: what each worker is handed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from sweeper.chain.goals import usual_within
from sweeper.chain.model import Chain, Condition, Reach
from sweeper.chain.own_chain import each_chain
from sweeper.host.setup import StageSetup
from sweeper.plan.album import below_target_lu, is_level
from sweeper.plan.looks import keys_each_pass, keys_once, split
from sweeper.plan.reach_terms import direction_for
from sweeper.plan.sections import frame_ranges
from sweeper.plan.variants import Variant
from sweeper.quantities import quantity_of
from sweeper.records import HandleRecord, Source
from sweeper.render.folder import RunFolder
from sweeper.render.job import GoalOrder, Job, KnownFile, Look, MixFile, ReachOrder, stamp_of
from sweeper.render.looks import looks_for
from sweeper.render.orders import Measured


def render_path(folder: RunFolder, variant: str) -> Path:
    """Where a variant's render goes."""
    return folder.variant(variant) / "render.wav"


def jobs(chain: Chain, found: Sequence[Variant], mixes: Sequence[Measured], folder: RunFolder, now: datetime,
         patience_s: float, known: Mapping[str, KnownFile],
         floors: Mapping[StageSetup, float | None],
         place: Callable[[RunFolder, str], Path] = render_path) -> dict[str, Job]:  # fmt: skip
    """One job a variant, by id, each with a place of its own in the run folder. known: plugins and states by path.

    floors: of stages that were rendered twice, the peak in dBFS of what differed, None = nothing. place: where the
    render of a variant goes, and what is there for a while only.
    """
    files, chains = [mix_file(mix) for mix in mixes], each_chain(chain)
    looks = {variant.id: looks_for(variant.stages, keys_once(chains[variant.mix]), floors) for variant in found}
    each_pass = keys_each_pass(chain)
    below_lu = below_target_lu(chain, [mix.measurements["loudness_lufs"] for mix in mixes])
    return {
        variant.id: Job(
            variant=variant.id, title=chain.title, mix=files[variant.mix],
            sections=frame_ranges(chain.mixes[variant.mix], chain.match_over, mixes[variant.mix].file.format.rate_hz),
            stages=variant.stages, reach=reach_orders(chains[variant.mix], variant, below_lu[variant.mix]),
            target=place(folder, variant.id),
            tag=tag_of(folder.path, variant.id, now), date=f"{now:%Y-%m-%d}", time=f"{now:%H:%M:%S}",
            patience_s=patience_s, files=known, repeats=tuple(_all_repeats(variant, floors)),
            looks=looks[variant.id][0], unseen=looks[variant.id][1],
            looks_each_pass=_of_reaches(variant, looks[variant.id][0], each_pass), handles=handles_of(chain, variant),
        )
        for variant in found
    }  # fmt: skip


def _of_reaches(variant: Variant, looks: Sequence[Look], keys: Sequence[str]) -> tuple[Look, ...]:
    """Those of the looks that find what a reach is held against."""
    names = {split(key)[0] for key in keys}
    return tuple(look for look in looks if ("" if look.stage is None else variant.stages[look.stage].name) in names)


def handles_of(chain: Chain, variant: Variant) -> tuple[tuple[HandleRecord, ...], ...]:
    """The handles of each stage of a variant, of the alternative that it has."""
    by_name = {stage.name: stage for stage in chain.stages}
    chosen = (next((c for c in by_name[s.name].choices if c.label == s.label), by_name[s.name]) for s in variant.stages)
    return tuple(tuple(HandleRecord(h.name, h.direction, h.setting) for h in stage.handles) for stage in chosen)


def _all_repeats(variant: Variant, floors: Mapping[StageSetup, float | None]) -> Iterator[str]:
    """What a sheet says of each stage. A stage that a reach turns ends in settings in which it was not tried."""
    turned = {turn.stage for turn in variant.turns}
    for number, setup in enumerate(variant.stages):
        floor = floors.get(setup)
        if setup not in floors or setup.bypass or (floor is None and number in turned):
            yield ""
        else:
            yield "identical" if floor is None else f"{floor:.1f} dBFS"


def mix_file(mix: Measured) -> MixFile:
    """A measured mix as a job names it."""
    format = mix.file.format
    source = Source(str(mix.file.path.absolute()), mix.audio_sha256, format.channels, format.rate_hz, mix.file.frames)
    return MixFile(source, stamp_of(mix.file.path))


def tag_of(run: Path, variant: str, now: datetime) -> str:
    """An opaque id for a rendered file: 24 hexadecimal digits, different for every run and variant."""
    return hashlib.sha256(f"{run.absolute()}\n{variant}\n{now.isoformat()}".encode()).hexdigest()[:24]


def reach_orders(chain: Chain, variant: Variant, below_lu: float = 0.0) -> tuple[ReachOrder, ...]:
    """What a variant's reaches solve, as a worker gets it, in the chain file's order.

    chain: as the variant's mix has it. below_lu: how far below its loudness goals that mix is to land.
    """
    return tuple(
        ReachOrder(turn.stage, turn.setting, turn.side, direction_for(reach.key, turn.direction),
                   (_goal(reach, below_lu), *(_stop(condition) for condition in reach.stop_at)),
                   ride=turn.ride, sign=turn.sign, measured=_measured(reach.key, variant),
                   as_taught=variant.main is not None)
        for reach, turn in zip(chain.reach, variant.turns, strict=True)
    )  # fmt: skip


def _measured(key: str, variant: Variant) -> int | None:
    """The number of the stage that a measurement looks at; None = the whole."""
    name = key.rpartition(".")[0]
    return next((n for n, stage in enumerate(variant.stages) if stage.name == name), None) if name else None


def _goal(reach: Reach, below_lu: float) -> GoalOrder:
    goal = reach.goal - below_lu if is_level(reach.key) and not reach.at_most else reach.goal
    text = f"{quantity_of(reach.key).name} {goal:g}"
    return GoalOrder(reach.key, goal, 1, reach.within, reach.at_most, text)


def _stop(condition: Condition) -> GoalOrder:
    sign = 1 if condition.relation == "<=" else -1
    within = usual_within(quantity_of(condition.key), abs(condition.value))
    if condition.key in ("overs", "over_runs"):
        within = 1.0
    return GoalOrder(condition.key, condition.value, sign, within, True, condition.text)
