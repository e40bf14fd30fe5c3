"""The sentence: every step of a run, once, in order. Read this file first.

chain file -> mixes measured -> plugins examined -> variants -> a plan of shared steps -> rendered and measured, each on
its targets -> rows -> level-matched -> ranked -> written.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.chain import Chain, load_chain
from sweeper.errors import SweeperError
from sweeper.plan.examine import Examined, examine
from sweeper.plan.planned import Plan, planned
from sweeper.plan.tree import Facts, tree
from sweeper.plan.variants import Variant, variants
from sweeper.render.costs import Speeds, costs, speeds
from sweeper.render.disk import need, refuse_what_cannot_fit
from sweeper.render.executor import Execution
from sweeper.render.facts import facts_of
from sweeper.render.folder import RunFolder
from sweeper.render.job import BLOCK_FRAMES, Rendered
from sweeper.render.jobs import jobs
from sweeper.render.matching import write_copies
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.render.sources import measured, measured_mixes
from sweeper.render.store import Store, default_folder, default_limit_bytes
from sweeper.table.begun import finished, read_begun, refuse_changes
from sweeper.table.copies import copies, thin, with_kept
from sweeper.table.forecast import Checked, checked
from sweeper.table.outcome import Ledger, Run, work_data
from sweeper.table.row import Row
from sweeper.table.rows import failed_row, in_order, matched_rows, order_warnings, ranked_rows, rendered_row
from sweeper.verdict import nearly_fixed
from sweeper.workers import Failed, Pool

Event = dict[str, object]


def _nothing(event: Event) -> None:
    """Where nobody watches."""


@dataclass(frozen=True)
class Options:
    """Where and how a run is done; nothing here decides the sound.

    results: the folder that gets the run's folder. patience_s: how long a plugin may show no sign of life.
    store: the folder of rendered steps, None = this user's; store_limit_bytes: what it may hold, None = a fifth of the
    free space, 0 = nothing. watch: is told every event of the workers. row_done: gets every row as it comes in.
    """

    results: Path = Path("results")
    workers: int = 2
    patience_s: float = 60.0
    store: Path | None = None
    store_limit_bytes: int | None = None
    watch: Callable[[Event], None] = _nothing
    row_done: Callable[[Row], None] = field(default=lambda row: None)


def run(chain_file: Path, options: Options) -> Run:
    """Render every variant that a chain file asks for, in a new folder.

    Raises ChainFileError, AudioFileError, RunFolderError, StoreError, and Interrupted when the engineer stops it; a
    variant that fails is a row, not an exception.
    """
    began = time.perf_counter()
    chain = load_chain(chain_file)
    with _desk(options) as desk:
        ready = _ready(chain, desk)
        plan = _plan(ready, ready.found, _speeds(ready, desk, strict=False), desk)
        refuse_what_cannot_fit(need(chain, plan, ready.mixes), options.results, desk.store.folder)
        started = datetime.now().replace(microsecond=0)
        with RunFolder.create(options.results, chain.title, started) as folder:
            return _carry_out(ready, plan, {}, folder, started, desk, began)


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
            ready = _ready(chain, desk)
            refuse_changes(begun, chain, ready.found, ready.facts)
            done = finished(folder, ready.found)
            todo = tuple(v for v in ready.found if v.id not in done)
            plan = _plan(ready, todo, _speeds(ready, desk, strict=False), desk)
            refuse_what_cannot_fit(need(chain, plan, ready.mixes), folder.path, desk.store.folder)
            return _carry_out(ready, plan, done, folder, begun.started, desk, began)


def check(chain_file: Path, options: Options) -> Checked:
    """Hold a chain file against its mixes and plugins, and foresee what a run takes. Renders none of the mix.

    Raises ChainFileError, AudioFileError, StoreError, or PluginError when a stage fails on noise.
    """
    chain = load_chain(chain_file)
    with _desk(options) as desk:
        ready = _ready(chain, desk)
        tried = _speeds(ready, desk, strict=True)
        plan = _plan(ready, ready.found, tried, desk)
        warnings = (*ready.examined.warnings, *nearly_fixed(chain))
        return checked(chain, ready.examined, plan, ready.mixes, tried, need(chain, plan, ready.mixes), warnings,
                       options.workers)  # fmt: skip


@dataclass(frozen=True)
class _Desk:
    """What a run works with."""

    options: Options
    pool: Pool
    store: Store
    watcher: _Watcher


@contextmanager
def _desk(options: Options) -> Iterator[_Desk]:
    watcher = _Watcher(options.watch)
    place = options.store or default_folder()
    limit = default_limit_bytes(place) if options.store_limit_bytes is None else options.store_limit_bytes
    with Pool(options.workers, watcher) as pool, Store(place, limit) as store:
        yield _Desk(options, pool, store, watcher)


@dataclass(frozen=True)
class _Ready:
    """Everything known before the plan."""

    chain: Chain
    mixes: list[Measured]
    examined: Examined
    found: tuple[Variant, ...]
    references: list[Measured]
    facts: Facts


def _ready(chain: Chain, desk: _Desk) -> _Ready:
    mixes = measured_mixes(chain, desk.pool)
    formats = dict.fromkeys(AudioFormat(m.file.format.channels, m.file.format.rate_hz) for m in mixes)
    examined = examine(chain, list(formats), desk.pool, BLOCK_FRAMES, desk.options.patience_s)
    found = variants(chain, examined)
    references = measured([MeasureOrder(r.file, {}) for r in chain.references], desk.pool)
    return _Ready(chain, mixes, examined, found, references, facts_of(found, [m.audio_sha256 for m in mixes]))


def _speeds(ready: _Ready, desk: _Desk, strict: bool) -> Speeds:
    remembered = desk.store.folder if desk.store.limit_bytes else None
    return speeds(ready.found, ready.mixes, ready.facts, remembered, desk.pool, BLOCK_FRAMES, desk.options.patience_s,
                  strict)  # fmt: skip


def _plan(ready: _Ready, todo: tuple[Variant, ...], tried: Speeds, desk: _Desk) -> Plan:
    grown = tree(todo, ready.facts)
    there = frozenset(key for key in grown.steps if desk.store.has(key))
    dear = costs(grown, ready.mixes, tried)
    return planned(ready.found, todo, grown, dear, there, desk.store.limit_bytes, desk.options.workers)


def _carry_out(ready: _Ready, plan: Plan, done: dict[str, Rendered], folder: RunFolder, started: datetime, desk: _Desk,
               began: float) -> Run:  # fmt: skip
    """Render what the plan asks for, then make the table of all variants, and write everything."""
    chain, found, mixes = ready.chain, ready.found, ready.mixes
    desk.watcher.log = folder.log
    ledger = Ledger(chain, folder, found, ready.facts, mixes, ready.references, started)
    rows = {v.id: rendered_row(chain, v, done[v.id], _files(v.id)) for v in found if v.id in done}
    try:
        ledger.write_asked()
        desk.options.watch({"event": "rendering", "variants": len(plan.variants)})
        todo = jobs(chain, list(plan.variants.values()), mixes, folder, started, desk.options.patience_s)
        solved = {id: rendered.solved for id, rendered in done.items()}
        execution = Execution(plan, todo, desk.store, desk.pool, folder.log, solved)
        for id, outcome in execution.outcomes():
            rows[id] = _row(chain, plan.variants[id], outcome, folder)
            desk.options.row_done(rows[id])
        matched, mix_gains = matched_rows(chain, in_order(found, rows), [mix.measurements for mix in mixes])
        ranked = with_kept(chain, ranked_rows(chain, matched))
        ledger.write_table(ranked)
        trouble = write_copies(copies(folder, ranked, mixes, mix_gains, started), desk.pool)
        thin(folder, ranked)
        warnings = (*ready.examined.warnings, *nearly_fixed(chain), *order_warnings(ranked, chain.prefer))
        work = work_data(plan, execution.tally, folder, time.perf_counter() - began)
        return ledger.write_answer(ranked, mix_gains, warnings, trouble, work)
    except KeyboardInterrupt as exc:
        raise ledger.interrupted(_all_that_is_there(ready, rows, folder, desk)) from exc
    except SweeperError as exc:
        raise ledger.stopped(_all_that_is_there(ready, rows, folder, desk), exc) from exc


def _all_that_is_there(ready: _Ready, rows: dict[str, Row], folder: RunFolder, desk: _Desk) -> list[Row]:
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


class _Watcher:
    """Passes the workers' events on, and into the run's log once there is one."""

    def __init__(self, watch: Callable[[Event], None]) -> None:
        self._watch = watch
        self.log: Callable[[Event], None] = _nothing

    def __call__(self, event: Event) -> None:
        self._watch(event)
        if event.get("event") != "beat":
            self.log(event)
