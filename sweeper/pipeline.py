"""The sentence: every step of a run, once, in order. Read this file first.

chain file -> mixes measured -> plugins examined -> variants -> a plan of shared steps -> rendered and measured, each on
its targets -> rows -> level-matched -> ranked -> the best that differ chosen -> these looked into -> written.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.chain import Chain, load_chain
from sweeper.errors import SweeperError
from sweeper.plan.picked import picked
from sweeper.plan.planned import Plan
from sweeper.plan.taken_apart import taken_apart
from sweeper.plan.variants import Variant
from sweeper.render.desk import Desk, Event, opened
from sweeper.render.disk import need, refuse_what_cannot_fit
from sweeper.render.executor import Execution
from sweeper.render.finalists import Finalist, looked_into
from sweeper.render.folder import RunFolder
from sweeper.render.job import BLOCK_FRAMES, Rendered
from sweeper.render.jobs import jobs
from sweeper.render.looks import Floors
from sweeper.render.matching import write_copies
from sweeper.render.ready import Ready, plan_of, prepared, speeds_of, with_what_came_back
from sweeper.render.repeats import floors_of, repeats
from sweeper.render.taking_apart import rendered_apart
from sweeper.render.trials import trials
from sweeper.shortlist import kept
from sweeper.table.begun import Begun, edited_since, finished, read_begun, refuse_changes
from sweeper.table.contributions import Contributions, contributions_of, part_row
from sweeper.table.copies import copies, thin
from sweeper.table.finalists import finalists, rows_looked_into
from sweeper.table.forecast import Checked, checked
from sweeper.table.outcome import Ledger, Run, spared_warnings, work_data
from sweeper.table.row import Row
from sweeper.table.rows import failed_row, in_order, matched_rows, order_warnings, ranked_rows, rendered_row
from sweeper.table.trial_words import Shown
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
    """Render every variant that a chain file asks for, in a new folder.

    Raises ChainFileError, AudioFileError, RunFolderError, StoreError, and Interrupted when the engineer stops it; a
    variant that fails is a row, not an exception.
    """
    began = time.perf_counter()
    chain = load_chain(chain_file)
    with _desk(options) as desk:
        ready = prepared(chain, desk)
        plan = plan_of(ready, ready.found, speeds_of(ready, desk, strict=False), desk)
        wanted = need(chain, plan, ready.mixes, ready.found, desk.store_room_bytes)
        refuse_what_cannot_fit(wanted, options.results, desk.store.folder)
        started = datetime.now().replace(microsecond=0)
        with RunFolder.create(options.results, chain.title, started) as folder:
            return _carry_out(ready, plan, {}, folder, started, None, desk, options, began)


def resume(run_folder: Path, options: Options) -> Run:
    """Go on with a run that was stopped, however it was: what is finished stays, what is not is rendered.

    Raises as `run`, and RunFolderError when the folder is no run's, is in use, or was begun with other mixes or
    plugins.
    """
    began = time.perf_counter()
    with RunFolder.at(run_folder) as folder:
        begun = read_begun(folder)
        chain = load_chain(begun.chain_file, begun.text)
        with _desk(options) as desk:
            ready = prepared(chain, desk)
            refuse_changes(begun, chain, ready.found, ready.facts)
            done = finished(folder, ready.found)
            left = tuple(v for v in ready.found if v.id not in done)
            plan = plan_of(ready, left, speeds_of(ready, desk, strict=False), desk)
            wanted = need(chain, plan, ready.mixes, ready.found, desk.store_room_bytes, folder.path)
            refuse_what_cannot_fit(wanted, folder.path, desk.store.folder)
            return _carry_out(ready, plan, done, folder, begun.started, begun, desk, options, began)


def check(chain_file: Path, options: Options, twice: bool = False) -> Checked:
    """Hold a chain file against its mixes and plugins, and foresee what a run takes. Renders none of the mix.

    twice: some seconds of it are rendered after all, to see what repeats itself.
    Raises ChainFileError, AudioFileError, StoreError, or PluginError when a stage fails on noise.
    """
    chain = load_chain(chain_file)
    with _desk(options) as desk:
        ready = prepared(chain, desk)
        tried = speeds_of(ready, desk, strict=True)
        plan = plan_of(ready, ready.found, tried, desk)
        warnings = (*ready.examined.warnings, *nearly_fixed(chain))
        wanted = need(chain, plan, ready.mixes, ready.found, desk.store_room_bytes)
        shown = _shown(ready, desk, twice)
        return checked(chain, ready.examined, plan, ready.mixes, tried, wanted, warnings, options.workers, shown)


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
    on_noise = trials(ready.found, ready.mixes, desk.pool, BLOCK_FRAMES, desk.patience_s)
    if not twice:
        return Shown(on_noise)
    remembered = desk.store.folder if desk.store.limit_bytes else None
    return Shown(on_noise, repeats(ready.found, ready.mixes, ready.facts, remembered, BLOCK_FRAMES, desk.patience_s,
                                   lambda: Pool(1, desk.watcher)))  # fmt: skip


def _desk(options: Options) -> AbstractContextManager[Desk]:
    return opened(options.workers, options.patience_s, options.store, options.store_limit_bytes, options.watch,
                  options.memory_limit_bytes)  # fmt: skip


def _carry_out(ready: Ready, plan: Plan, done: dict[str, Rendered], folder: RunFolder, started: datetime,
               begun: Begun | None, desk: Desk, options: Options, began: float) -> Run:  # fmt: skip
    """Render what the plan asks for, then make the table of all variants, and write everything."""
    chain, found, mixes = ready.chain, ready.found, ready.mixes
    desk.watcher.log = folder.log
    ledger = Ledger(chain, folder, found, ready.facts, mixes, ready.references, started)
    rows = {v.id: rendered_row(chain, v, done[v.id], _files(v.id)) for v in found if v.id in done}
    try:
        ledger.write_asked(begun.asked if begun else None)
        ready, plan = with_what_came_back(ready, plan, folder, desk)
        options.watch({"event": "rendering", "variants": len(plan.variants)})
        floors = floors_of(found, ready.facts, desk.store.folder)
        left = jobs(chain, list(plan.variants.values()), mixes, folder, started, desk.patience_s, ready.known, floors)
        solved = {id: rendered.solved for id, rendered in done.items()}
        execution = Execution(plan, left, desk.store, desk.pool, folder.log, solved, outside=ready.outside)
        rendered: dict[str, Rendered] = {}
        for id, outcome in execution.outcomes():
            if not isinstance(outcome, Failed):
                rendered[id] = outcome
            rows[id] = _row(chain, plan.variants[id], outcome, folder)
            options.row_done(rows[id])
        matched, mix_gains = matched_rows(chain, in_order(found, rows), [mix.measurements for mix in mixes])
        ranked, choice = kept(ranked_rows(chain, matched), ready, folder, desk)
        ranked = _looked_into(ranked, {**done, **rendered}, ready, floors, folder, desk, options)
        ledger.write_table(ranked)
        trouble = write_copies(copies(folder, ranked, mixes, mix_gains, started), desk.pool)
        thin(folder, ranked)
        edited = edited_since(begun) if begun else ()
        warnings = (*edited, *ready.examined.warnings, *nearly_fixed(chain), *order_warnings(ranked, chain.prefer),
                    *spared_warnings(execution.tally), *choice.notes)  # fmt: skip
        work = work_data(plan, execution.tally, folder, time.perf_counter() - began)
        return ledger.write_answer(ranked, mix_gains, warnings, trouble, work, choice.as_data())
    except KeyboardInterrupt as exc:
        raise ledger.interrupted(_all_that_is_there(ready, rows, folder, desk)) from exc
    except SweeperError as exc:
        raise ledger.stopped(_all_that_is_there(ready, rows, folder, desk), exc) from exc


def _looked_into(rows: list[Row], rendered: dict[str, Rendered], ready: Ready, floors: Floors, folder: RunFolder,
                 desk: Desk, options: Options) -> list[Row]:  # fmt: skip
    """The rows, those of the best with what was found inside their chains."""
    best = finalists(rows)
    if not best:
        return rows
    options.watch({"event": "looking", "variants": len(best)})
    chosen = [Finalist(variant, rendered[variant.id]) for variant in ready.found if variant.id in best]
    return rows_looked_into(rows, looked_into(chosen, ready, floors, folder, desk))


def _all_that_is_there(ready: Ready, rows: dict[str, Row], folder: RunFolder, desk: Desk) -> list[Row]:
    """The rows that are in, and those of variants that a worker had just finished when the run was stopped."""
    desk.pool.close()
    done = finished(folder, ready.found)
    late = {v.id: rendered_row(ready.chain, v, done[v.id], _files(v.id)) for v in ready.found if v.id in done}
    return in_order(ready.found, {**late, **rows})


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
