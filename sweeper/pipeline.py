"""The sentence: every step of a run, once, in order. Read this file first.

chain file -> mixes measured -> plugins examined -> variants -> a plan of shared steps -> rendered and measured, each on
its targets -> rows -> level-matched -> ranked -> the best that differ chosen -> these looked into -> written. An
exploration goes from variants to rows again and again, a batch at a time; on excerpts first, where it listens to these.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.chain import load_chain
from sweeper.chain.own_chain import chain_of
from sweeper.errors import SweeperError
from sweeper.plan.album import relations_in_words
from sweeper.plan.exploration import Exploration, foreseen
from sweeper.plan.in_full import in_full
from sweeper.plan.own_words import own_in_words
from sweeper.plan.picked import picked
from sweeper.plan.planned import Plan
from sweeper.plan.taken_apart import taken_apart
from sweeper.plan.teachers import main_variants
from sweeper.plan.variants import Variant
from sweeper.records.archived import moved_for, moved_in
from sweeper.render.costs import Speeds, also_of
from sweeper.render.desk import Desk, Event, opened
from sweeper.render.disk import need, refuse_what_cannot_fit
from sweeper.render.finalists import Finalist, looked_into
from sweeper.render.folder import RunFolder
from sweeper.render.job import BLOCK_FRAMES, Rendered
from sweeper.render.listened import refuse_without_excerpts
from sweeper.render.matching import write_copies
from sweeper.render.ready import Ready, plan_of, prepared, speeds_of, with_what_came_back
from sweeper.render.repeats import floors_of, repeats
from sweeper.render.taking_apart import rendered_apart
from sweeper.render.trials import trials
from sweeper.shortlist import kept
from sweeper.table.alternates import levels_told
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
from sweeper.table.parts import Part, listens, parts, rows_of
from sweeper.table.row import Row
from sweeper.table.rows import in_order, matched_rows, order_warnings, ranked_rows
from sweeper.table.so_far import all_that_is_there, begun_with
from sweeper.table.trial_words import Shown
from sweeper.table.tried import tried_before, with_tried
from sweeper.table.tries_forecast import with_tries
from sweeper.verdict import nearly_fixed
from sweeper.workers import Pool


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
    chain = load_chain(chain_file, moved=moved_for(chain_file))
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
        moved = moved_in(run_folder)
        chain = load_chain(begun.chain_file, begun.text, moved)
        if more:
            refuse_more(begun, chain)
        with _desk(options) as desk:
            ready = prepared(chain, desk)
            search = explored_before(begun, chain, ready.examined, ready.facts, more)
            ready = replace(ready, found=search.found) if search else ready
            refuse_changes(begun, chain, ready.found, ready.facts, moved)
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
    chain = load_chain(chain_file, moved=moved_for(chain_file))
    with _desk(options) as desk:
        ready = prepared(chain, desk)
        refuse_without_excerpts(chain, ready.mixes)
        search = Exploration(chain, ready.examined) if chain.explore else None
        tried = speeds_of(ready, desk, strict=True)
        plan = _foreseen(ready, search, ready.found, tried, desk)
        warnings = (*ready.examined.warnings, *own_in_words(chain), *_relations(ready), *nearly_fixed(chain))
        wanted = need(chain, plan, ready.mixes, tuple(plan.variants.values()), desk.store_room_bytes)
        shown = _shown(ready, desk, twice)
        tried = also_of(tried, tuple(plan.variants.values()))
        found = checked(chain, ready.examined, plan, ready.mixes, tried, wanted, warnings, options.workers, shown,
                        search.method if search else None)  # fmt: skip
        if search is None or not listens(ready):
            return found
        tries = foreseen(chain, ready.examined, search.to_come)
        return with_tries(found, chain, tries, len(plan.variants), ready.mixes, also_of(tried, tries), options.workers)


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
    chain = load_chain(chain_file, moved=moved_for(chain_file))
    with (TemporaryDirectory(prefix="sweeper-contributions-", ignore_cleanup_errors=True) as place,
          _desk(options) as desk):  # fmt: skip
        ready = prepared(replace(chain, references=()), desk)
        variant = picked(chain, ready.found, number, mix)
        chain = chain_of(chain, variant.mix)
        ready = replace(ready, chain=chain)
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


def _relations(ready: Ready) -> tuple[str, ...]:
    """Where the mixes of an album that keeps its relations land, in words."""
    return relations_in_words(ready.chain, [mix.measurements["loudness_lufs"] for mix in ready.mixes])


def _desk(options: Options) -> AbstractContextManager[Desk]:
    return opened(options.workers, options.patience_s, options.store, options.store_limit_bytes, options.watch,
                  options.memory_limit_bytes)  # fmt: skip


def _carry_out(ready: Ready, plan: Plan, search: Exploration | None, done: dict[str, Rendered], folder: RunFolder,
               started: datetime, begun: Begun | None, desk: Desk, options: Options, began: float) -> Run:  # fmt: skip
    """Render what is asked for, batch after batch where it is explored; then make the table, and write everything."""
    chain, mixes = ready.chain, ready.mixes
    desk.watcher.log = folder.log
    ledger = Ledger(chain, folder, ready.found, ready.facts, mixes, ready.references, started)
    so_far = begun_with(ready, done, tried_before(folder, ready.found) if listens(ready) else {})
    try:
        each = parts(ready, plan, search, so_far, desk, options.watch)
        for ready, part in each:
            ledger.write_asked(ready.found, search.as_data() if search else None, begun.asked if begun else None)
            if not part.on_excerpts:
                ready, plan = with_what_came_back(ready, part.plan, folder, desk)
                part = Part(plan)
            for row in rows_of(ready, part, so_far, folder, started, desk):
                options.row_done(row)
        rows = in_order(ready.found, so_far.rows)
        matched, mix_gains = matched_rows(chain, rows, [mix.measurements for mix in mixes])
        ranked, choice = kept(ranked_rows(chain, matched), ready, folder, desk)
        ranked = with_tried(chain, _looked_into(ranked, so_far.rendered, ready, folder, desk, options), so_far.tried)
        ledger.write_table(ranked)
        trouble = write_copies(copies(folder, ranked, mixes, mix_gains, started), desk.pool)
        thin(folder, ranked)
        edited = edited_since(begun) if begun else ()
        warnings = (*edited, *ready.examined.warnings, *own_in_words(chain), *_relations(ready),
                    *nearly_fixed(chain), *order_warnings(ranked, chain.prefer),
                    *levels_told(ranked, main_variants(ready.found)), *spared_warnings(so_far.tally),
                    *choice.notes)  # fmt: skip
        work = work_data(so_far.plans, so_far.tally, folder, time.perf_counter() - began)
        return ledger.write_answer(ranked, mix_gains, warnings, trouble, work, choice.as_data(), search)
    except KeyboardInterrupt as exc:
        raise ledger.interrupted(all_that_is_there(ready, so_far, folder, desk)) from exc
    except SweeperError as exc:
        raise ledger.stopped(all_that_is_there(ready, so_far, folder, desk), exc) from exc


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
