"""The sentence: every step of a run, once, in order. Read this file first.

chain file -> plugins examined -> mixes measured -> variants -> rendered and measured, each on its target ->
rows -> level-matched -> ranked -> written.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.chain import Chain, load_chain
from sweeper.errors import SweeperError
from sweeper.plan.examine import Examined, examine
from sweeper.plan.variants import Variant, variants
from sweeper.render.executor import render_all
from sweeper.render.folder import RunFolder
from sweeper.render.job import BLOCK_FRAMES, Job, Rendered
from sweeper.render.jobs import jobs
from sweeper.render.matching import write_copies
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.render.sources import measured, measured_mixes
from sweeper.render.timing import timed
from sweeper.table.forecast import Checked, checked
from sweeper.table.outcome import Ledger, Run, copies, sheet
from sweeper.table.row import Row
from sweeper.table.rows import failed_row, in_order, matched_rows, ranked_rows, rendered_row
from sweeper.workers import Failed, Pool

Event = dict[str, object]


def _nothing(event: Event) -> None:
    """Where nobody watches."""


@dataclass(frozen=True)
class Options:
    """Where and how a run is done; nothing here decides the sound.

    results: the folder that gets the run's folder. patience_s: how long a plugin may show no sign of life.
    watch: is told every event of the workers. row_done: gets every row as it comes in.
    """

    results: Path = Path("results")
    workers: int = 2
    patience_s: float = 60.0
    watch: Callable[[Event], None] = _nothing
    row_done: Callable[[Row], None] = field(default=lambda row: None)


def run(chain_file: Path, options: Options) -> Run:
    """Render every variant that a chain file asks for; see the top of this file.

    Raises ChainFileError, AudioFileError, RunFolderError, and Interrupted when the engineer stops it; a
    variant that fails is a row, not an exception.
    """
    began = time.perf_counter()
    chain = load_chain(chain_file)
    watcher = _Watcher(options.watch)
    with Pool(options.workers, watcher) as pool:
        mixes = measured_mixes(chain, pool)
        examined = examined_chain(chain, mixes, pool, options.patience_s)
        found = variants(chain, examined.paths)
        references = measured([MeasureOrder(r.file, {}) for r in chain.references], pool)
        now = datetime.now()
        with RunFolder.create(options.results, chain.title, now) as folder:
            watcher.log = folder.log
            ledger = Ledger(chain, folder, found, mixes, references, now)
            ledger.write_asked()
            options.watch({"event": "rendering", "variants": len(found)})
            todo = jobs(chain, found, mixes, folder, now, options.patience_s)
            rows: dict[str, Row] = {}
            try:
                _render(chain, found, todo, pool, folder, rows, options)
                matched, mix_gains = matched_rows(chain, in_order(found, rows), [mix.measurements for mix in mixes])
                ranked = ranked_rows(chain, matched)
                ledger.write_table(ranked)
                trouble = write_copies(copies(folder, ranked, mixes, mix_gains, now), pool)
            except KeyboardInterrupt as exc:
                pool.close()
                raise ledger.interrupted(in_order(found, rows)) from exc
            except SweeperError:
                ledger.write_table(in_order(found, rows))
                raise
            return ledger.write_answer(ranked, mix_gains, examined.warnings, trouble, time.perf_counter() - began)


def check(chain_file: Path, options: Options) -> Checked:
    """Hold a chain file against its mixes and plugins, and foresee what a run takes. Renders none of the mix.

    Raises ChainFileError, AudioFileError, or PluginError when the chain fails on noise.
    """
    chain = load_chain(chain_file)
    with Pool(options.workers, options.watch) as pool:
        mixes = measured_mixes(chain, pool)
        examined = examined_chain(chain, mixes, pool, options.patience_s)
        found = variants(chain, examined.paths)
        speeds = timed(found, mixes, pool, options.patience_s)
        return checked(chain, examined, found, mixes, speeds, options.workers)


def examined_chain(chain: Chain, mixes: list[Measured], pool: Pool, patience_s: float) -> Examined:
    """The chain's plugins loaded once for every format among the mixes. Raises ChainFileError."""
    formats = dict.fromkeys(AudioFormat(m.file.format.channels, m.file.format.rate_hz) for m in mixes)
    return examine(chain, list(formats), pool, BLOCK_FRAMES, patience_s)


def _render(chain: Chain, found: tuple[Variant, ...], todo: tuple[Job, ...], pool: Pool, folder: RunFolder,
            rows: dict[str, Row], options: Options) -> None:  # fmt: skip
    """Render every job; each row goes into `rows` as it comes in."""
    by_id: Mapping[str, Variant] = {variant.id: variant for variant in found}
    for job, outcome in render_all(todo, pool):
        row = _row(chain, by_id[job.variant], job, outcome, folder)
        rows[row.id] = row
        folder.log({"event": "row", "variant": row.id, "status": row.status, "cause": row.cause})
        options.row_done(row)


def _row(chain: Chain, variant: Variant, job: Job, outcome: Rendered | Failed, folder: RunFolder) -> Row:
    if isinstance(outcome, Failed):
        folder.sweep_up(f"variants/{variant.id}")
        folder.log({"event": "failed", "variant": variant.id, "what": outcome.what, "said": outcome.said})
        return failed_row(chain, variant, outcome)
    place = f"variants/{variant.id}"
    folder.write_json(f"{place}/recall.json", sheet(chain, variant, job, outcome).as_data())
    files = {"render": f"{place}/render.wav", "matched": f"{place}/matched.wav", "recall": f"{place}/recall.json"}
    return rendered_row(chain, variant, outcome, files)


class _Watcher:
    """Passes the workers' events on, and into the run's log once there is one."""

    def __init__(self, watch: Callable[[Event], None]) -> None:
        self._watch = watch
        self.log: Callable[[Event], None] = _nothing

    def __call__(self, event: Event) -> None:
        self._watch(event)
        if event.get("event") != "beat":
            self.log(event)
