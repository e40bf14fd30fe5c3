"""The sentence: every step of a run, once, in order. Read this file first.

chain file -> mixes measured -> plugins examined -> variants -> a plan of shared steps -> rendered and measured, each on
its targets -> rows -> level-matched -> ranked -> the best that differ chosen -> these looked into -> written. An
exploration goes from variants to rows again and again, a batch at a time; on excerpts first, where it listens to these.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from sweeper.chain import Chain, load_chain
from sweeper.errors import SweeperError
from sweeper.plan.exploration import Exploration, foreseen
from sweeper.plan.in_full import in_full
from sweeper.plan.picked import picked
from sweeper.plan.planned import Plan
from sweeper.plan.taken_apart import taken_apart
from sweeper.plan.variants import Variant
from sweeper.render.costs import Speeds, also_of
from sweeper.render.desk import Desk, Event, opened
from sweeper.render.disk import need, refuse_what_cannot_fit
from sweeper.render.executor import Execution, Tally
from sweeper.render.finalists import Finalist, looked_into
from sweeper.render.folder import RunFolder
from sweeper.render.job import BLOCK_FRAMES, Rendered
from sweeper.render.jobs import jobs
from sweeper.render.known_faults import KnownFaults
from sweeper.render.listened import LISTEN, place_of_try, plan_of_tries, refuse_without_excerpts, taught_by_tries
from sweeper.render.matching import write_copies
from sweeper.render.ready import Ready, plan_of, prepared, speeds_of, with_what_came_back
from sweeper.render.repeats import floors_of, repeats
from sweeper.render.taking_apart import rendered_apart
from sweeper.render.trials import trials
from sweeper.shortlist import kept
from sweeper.table.begun import (
    Begun,
    edited_since,
    explored_before,
    finished,
    read_begun,
    refuse_changes,
    refuse_more,
)
from sweeper.table.contributions import Contributions, contributions_of, part_row
from sweeper.table.copies import copies, thin
from sweeper.table.finalists import finalists, rows_looked_into
from sweeper.table.forecast import Checked, checked
from sweeper.table.outcome import Ledger, Run, spared_warnings, work_data
from sweeper.table.row import Row
from sweeper.table.rows import failed_row, in_order, matched_rows, order_warnings, ranked_rows, rendered_row
from sweeper.table.telling import told_of
from sweeper.table.trial_words import Shown
from sweeper.table.tried import best_tried, only_tried, tried_before, tried_row, with_tried
from sweeper.table.tries_forecast import with_tries
from sweeper.verdict import nearly_fixed
from sweeper.workers import Failed, Pool


@dataclass(frozen=True)
class Options:
    """Where and how a run is done; nothing here decides the sound.

    results: the folder that gets the run's folder. patience_s: how long a plugin may show no sign of life.
    store: the folder of rendered steps, None = this user's; store_limit_bytes: what it may hold, None = a fifth of the
    free space, 0 = nothing. watch: is told every event of the workers. row_done: gets every row as it comes in.
    memory_limit_bytes: what one worker may take, None = a share of what the machine has, 8 GB at most.
    """

    results: Path = Path("results")
    workers: int = 2
    patience_s: float = 60.0
    store: Path | None = None
    store_limit_bytes: int | None = None
    watch: Callable[[Event], None] = field(default=lambda event: None)
    row_done: Callable[[Row], None] = field(default=lambda row: None)
    memory_limit_bytes: int | None = None


def run(chain_file: Path, options: Options) -> Run:
    """Render every variant that a chain file asks for, or explores, in a new folder.

    Raises ChainFileError, AudioFileError, RunFolderError, StoreError, and Interrupted when the engineer stops it; a
    variant that fails is a row, not an exception.
    """
    began = time.perf_counter()
    chain = load_chain(chain_file)
    with _desk(options) as desk:
        ready = prepared(chain, desk)
        refuse_without_excerpts(chain, ready.mixes)
        search = Exploration(chain, ready.examined) if chain.explore else None
        plan = _foreseen(ready, search, ready.found, speeds_of(ready, desk, strict=False), desk)
        wanted = need(chain, plan, ready.mixes, tuple(plan.variants.values()), desk.store_room_bytes)
        refuse_what_cannot_fit(wanted, options.results, desk.store.folder)
        started = datetime.now().replace(microsecond=0)
        with RunFolder.create(options.results, chain.title, started) as folder:
            return _carry_out(ready, plan, search, {}, folder, started, None, desk, options, began)


def resume(run_folder: Path, options: Options, more: int = 0) -> Run:
    """Go on with a run that was stopped, however it was: what is finished stays, what is not is rendered.

    more: so many variants of each mix are added to an exploration that is finished.
    Raises as `run`, and RunFolderError when the folder is no run's, is in use, or was begun with other mixes or
    plugins.
    """
    began = time.perf_counter()
    with RunFolder.at(run_folder) as folder:
        begun = read_begun(folder)
        chain = load_chain(begun.chain_file, begun.text)
        if more:
            refuse_more(begun, chain)
        with _desk(options) as desk:
            ready = prepared(chain, desk)
            search = explored_before(begun, chain, ready.examined, ready.facts, more)
            ready = replace(ready, found=search.found) if search else ready
            refuse_changes(begun, chain, ready.found, ready.facts)
            done = finished(folder, ready.found)
            left = tuple(v for v in ready.found if v.id not in done)
            plan = _foreseen(ready, search, left, speeds_of(ready, desk, strict=False), desk)
            before = () if chain.explore and chain.explore.excerpts else ready.found  # most of them have no sound
            every = {v.id: v for v in (*before, *plan.variants.values())}
            wanted = need(chain, plan, ready.mixes, tuple(every.values()), desk.store_room_bytes, folder.path)
            refuse_what_cannot_fit(wanted, folder.path, desk.store.folder)
            return _carry_out(ready, plan, search, done, folder, begun.started, begun, desk, options, began)


def check(chain_file: Path, options: Options, twice: bool = False) -> Checked:
    """Hold a chain file against its mixes and plugins, and foresee what a run takes. Renders none of the mix.

    twice: some seconds of it are rendered after all, to see what repeats itself.
    Raises ChainFileError, AudioFileError, StoreError, or PluginError when a stage fails on noise.
    """
    chain = load_chain(chain_file)
    with _desk(options) as desk:
        ready = prepared(chain, desk)
        refuse_without_excerpts(chain, ready.mixes)
        search = Exploration(chain, ready.examined) if chain.explore else None
        tried = speeds_of(ready, desk, strict=True)
        plan = _foreseen(ready, search, ready.found, tried, desk)
        warnings = (*ready.examined.warnings, *nearly_fixed(chain))
        wanted = need(chain, plan, ready.mixes, tuple(plan.variants.values()), desk.store_room_bytes)
        shown = _shown(ready, desk, twice)
        tried = also_of(tried, tuple(plan.variants.values()))
        found = checked(chain, ready.examined, plan, ready.mixes, tried, wanted, warnings, options.workers, shown,
                        search.method if search else None)  # fmt: skip
        if search is None or not _listens(ready):
            return found
        tries = foreseen(chain, ready.examined, search.to_come)
        return with_tries(found, tries, len(plan.variants), ready.mixes, also_of(tried, tries), options.workers)


def _foreseen(ready: Ready, search: Exploration | None, left: tuple[Variant, ...], tried: Speeds, desk: Desk) -> Plan:
    """The plan for what is left to render; for an exploration, of as many variants by chance as may still come."""
    if search is not None:
        most = in_full(ready.chain, search.to_come + len(left))
        left = foreseen(ready.chain, ready.examined, most)
        ready = replace(ready, found=left)
    return plan_of(ready, left, tried, desk)


def contributions(chain_file: Path, number: int | None, mix: str | None, options: Options) -> Contributions:
    """What each stage of one variant changes where it stands, and contributes to the whole. Leaves no file.

    number: of the variant, as `run` numbers them; None = the first, of the mix with that number or name.
    Raises as `run`, ChainFileError for a variant that is none or sends sound out, and what ended the full chain; a
    chain that fails without one of its stages is told.
    """
    chain = load_chain(chain_file)
    with (TemporaryDirectory(prefix="sweeper-contributions-", ignore_cleanup_errors=True) as place,
          _desk(options) as desk):  # fmt: skip
        ready = prepared(replace(chain, references=()), desk)
        variant = picked(chain, ready.found, number, mix)
        taken = taken_apart(chain, variant)
        options.watch({"event": "rendering", "variants": len(taken.variants)})
        apart = rendered_apart(ready, taken, Path(place), desk, lambda id, outcome: options.row_done(
            part_row(chain, variant, taken, id, outcome)))  # fmt: skip
        measured = ready.mixes[variant.mix].measurements
        return contributions_of(chain, variant, measured, taken, apart, ready.examined.warnings)


def _shown(ready: Ready, desk: Desk, twice: bool) -> Shown:
    """What noise shows of the stages; twice: and what rendering a stretch of the mix again shows."""
    on_noise = trials(ready.samples, ready.mixes, desk.pool, BLOCK_FRAMES, desk.patience_s)
    if not twice:
        return Shown(on_noise)
    remembered = desk.store.folder if desk.store.limit_bytes else None
    return Shown(on_noise, repeats(ready.samples, ready.mixes, ready.facts, remembered, BLOCK_FRAMES, desk.patience_s,
                                   lambda: Pool(1, desk.watcher)))  # fmt: skip


def _desk(options: Options) -> AbstractContextManager[Desk]:
    return opened(options.workers, options.patience_s, options.store, options.store_limit_bytes, options.watch,
                  options.memory_limit_bytes)  # fmt: skip


def _carry_out(ready: Ready, plan: Plan, search: Exploration | None, done: dict[str, Rendered], folder: RunFolder,
               started: datetime, begun: Begun | None, desk: Desk, options: Options, began: float) -> Run:  # fmt: skip
    """Render what is asked for, batch after batch where it is explored; then make the table, and write everything."""
    chain, mixes = ready.chain, ready.mixes
    desk.watcher.log = folder.log
    ledger = Ledger(chain, folder, ready.found, ready.facts, mixes, ready.references, started)
    rows = {v.id: rendered_row(chain, v, done[v.id], _files(v.id)) for v in ready.found if v.id in done}
    so_far = SoFar({**done}, tried=tried_before(folder, ready.found) if _listens(ready) else {})
    try:
        parts = _parts(ready, plan, search, rows, so_far, desk, options)
        for ready, part in parts:
            ledger.write_asked(ready.found, search.as_data() if search else None, begun.asked if begun else None)
            if part.on_excerpts:
                for row in _tried(ready, part.plan, so_far, folder, started, desk):
                    options.row_done(row)
                continue
            ready, plan = with_what_came_back(ready, part.plan, folder, desk)
            for id, outcome in _outcomes(ready, plan, so_far, folder, started, desk):
                rows[id] = _row(chain, plan.variants[id], outcome, folder)
                options.row_done(rows[id])
        matched, mix_gains = matched_rows(chain, in_order(ready.found, rows), [mix.measurements for mix in mixes])
        ranked, choice = kept(ranked_rows(chain, matched), ready, folder, desk)
        ranked = with_tried(chain, _looked_into(ranked, so_far.rendered, ready, folder, desk, options), so_far.tried)
        ledger.write_table(ranked)
        trouble = write_copies(copies(folder, ranked, mixes, mix_gains, started), desk.pool)
        thin(folder, ranked)
        edited = edited_since(begun) if begun else ()
        warnings = (*edited, *ready.examined.warnings, *nearly_fixed(chain), *order_warnings(ranked, chain.prefer),
                    *spared_warnings(so_far.tally), *choice.notes)  # fmt: skip
        work = work_data(so_far.plans, so_far.tally, folder, time.perf_counter() - began)
        return ledger.write_answer(ranked, mix_gains, warnings, trouble, work, choice.as_data(), search)
    except KeyboardInterrupt as exc:
        raise ledger.interrupted(_all_that_is_there(ready, rows, so_far.tried, folder, desk)) from exc
    except SweeperError as exc:
        raise ledger.stopped(_all_that_is_there(ready, rows, so_far.tried, folder, desk), exc) from exc


class Part(NamedTuple):
    """What is done next of a run. on_excerpts: its variants are tried on excerpts, and not rendered."""

    plan: Plan
    on_excerpts: bool = False


def _parts(ready: Ready, plan: Plan, search: Exploration | None, rows: Mapping[str, Row], so_far: SoFar, desk: Desk,
           options: Options) -> Iterator[tuple[Ready, Part]]:  # fmt: skip
    """The one plan of all combinations; or one for every batch that an exploration asks for, once the rows of the batch
    before are in, and at its end one of what is left to render: nothing, or the best of what was tried on excerpts."""
    if search is None:
        options.watch({"event": "rendering", "variants": len(plan.variants)})
        yield ready, Part(plan)
        return
    on_excerpts = _listens(ready)
    known = so_far.tried if on_excerpts else rows
    options.watch({"event": "trying" if on_excerpts else "rendering", "variants": search.most - len(known)})
    speeds = speeds_of(ready, desk, strict=False)
    while (batch := search.next(told_of(ready.chain, known.values()))) is not None:
        left = tuple(variant for variant in batch.variants if variant.id not in known)
        if left:
            ready = replace(ready, found=search.found)
            taught_by = batch.taught_by
            yield ready, Part(plan_of_tries(ready, left, taught_by, desk.workers) if on_excerpts
                              else plan_of(ready, left, speeds, desk, taught_by), on_excerpts)  # fmt: skip
    ready = replace(ready, found=search.found)
    best = best_tried(ready.chain, list(so_far.tried.values()))
    left = tuple(variant for variant in ready.found if variant.id in best and variant.id not in rows)
    if on_excerpts:
        options.watch({"event": "rendering", "variants": len(left)})
    yield ready, Part(plan_of(ready, left, speeds, desk, {}))


def _listens(ready: Ready) -> bool:
    """Whether variants are tried on excerpts."""
    return ready.chain.explore is not None and ready.chain.explore.excerpts


@dataclass
class SoFar:
    """What a run has come to, batch after batch. rendered: by the variant's id. tried: rows of what was tried on
    excerpts, as if they were renders', by id."""

    rendered: dict[str, Rendered]
    tried: dict[str, Row] = field(default_factory=dict)
    plans: list[Plan] = field(default_factory=list)
    tally: Tally = field(default_factory=Tally)
    faults: KnownFaults = field(default_factory=KnownFaults)


def _outcomes(ready: Ready, plan: Plan, so_far: SoFar, folder: RunFolder, started: datetime,
              desk: Desk) -> Iterator[tuple[str, Rendered | Failed]]:  # fmt: skip
    """Every variant of a plan with what came of it, in any order."""
    variants = tuple(plan.variants.values())
    floors = floors_of(variants, ready.facts, desk.store.folder)
    left = jobs(ready.chain, variants, ready.mixes, folder, started, desk.patience_s, ready.known, floors)
    left = taught_by_tries(left, {id: row.solved for id, row in so_far.tried.items()})
    solved = {id: rendered.solved for id, rendered in so_far.rendered.items()}
    execution = Execution(plan, left, desk.store, desk.pool, folder.log, solved, so_far.tally, ready.outside,
                          so_far.faults)  # fmt: skip
    for id, outcome in execution.outcomes():
        if not isinstance(outcome, Failed):
            so_far.rendered[id] = outcome
        yield id, outcome
    so_far.plans.append(plan)


def _tried(ready: Ready, plan: Plan, so_far: SoFar, folder: RunFolder, started: datetime,
           desk: Desk) -> Iterator[Row]:  # fmt: skip
    """Every variant of a plan as it comes back from excerpts, told as the table will tell it."""
    variants = tuple(plan.variants.values())
    floors = floors_of(variants, ready.facts, desk.store.folder)
    left = jobs(ready.chain, variants, ready.mixes, folder, started, desk.patience_s, ready.known, floors, place_of_try)
    solved = {id: row.solved for id, row in so_far.tried.items()}
    execution = Execution(plan, left, desk.store, desk.pool, folder.log, solved, so_far.tally, faults=so_far.faults,
                          work=LISTEN)  # fmt: skip
    for id, outcome in execution.outcomes():
        if isinstance(outcome, Failed):
            row = _row(ready.chain, plan.variants[id], outcome, folder)
        else:
            row = tried_row(ready.chain, plan.variants[id], outcome, folder)
        so_far.tried[id] = row
        yield only_tried(ready.chain, row)


def _looked_into(rows: list[Row], rendered: Mapping[str, Rendered], ready: Ready, folder: RunFolder, desk: Desk,
                 options: Options) -> list[Row]:  # fmt: skip
    """The rows, those of the best with what was found inside their chains."""
    best = finalists(rows)
    if not best:
        return rows
    options.watch({"event": "looking", "variants": len(best)})
    chosen = [Finalist(variant, rendered[variant.id]) for variant in ready.found if variant.id in best]
    floors = floors_of([one.variant for one in chosen], ready.facts, desk.store.folder)
    return rows_looked_into(rows, looked_into(chosen, ready, floors, folder, desk))


def _all_that_is_there(ready: Ready, rows: dict[str, Row], tried: Mapping[str, Row], folder: RunFolder,
                       desk: Desk) -> list[Row]:  # fmt: skip
    """The rows that are in, and those of variants that a worker had just finished when the run was stopped."""
    desk.pool.close()
    done = finished(folder, ready.found)
    late = {v.id: rendered_row(ready.chain, v, done[v.id], _files(v.id)) for v in ready.found if v.id in done}
    return with_tried(ready.chain, in_order(ready.found, {**late, **rows}), tried)


def _row(chain: Chain, variant: Variant, outcome: Rendered | Failed, folder: RunFolder) -> Row:
    if isinstance(outcome, Failed):
        folder.sweep_up(f"variants/{variant.id}")
        folder.log({"event": "failed", "variant": variant.id, "what": outcome.what, "said": outcome.said})
        row = failed_row(chain, variant, outcome)
    else:
        row = rendered_row(chain, variant, outcome, _files(variant.id))
    folder.log({"event": "row", "variant": row.id, "status": row.status, "cause": row.cause})
    return row


def _files(id: str) -> dict[str, str]:
    place = f"variants/{id}"
    return {"render": f"{place}/render.wav", "matched": f"{place}/matched.wav", "recall": f"{place}/recall.json"}
