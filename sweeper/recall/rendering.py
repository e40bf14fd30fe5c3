"""One past master made ready and rendered: its stages as they stood, its mix, and what has changed since."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.errors import SweeperError
from sweeper.host.setup import StageSetup
from sweeper.recall.asked import Asked
from sweeper.recall.differences import moved
from sweeper.recall.find import Found
from sweeper.recall.mix import same_music
from sweeper.recall.orders import LookOrder, StandingOrder
from sweeper.recall.outside import came_back
from sweeper.recall.setups import SetUp, required, set_up, with_settings
from sweeper.recall.since import Since, since
from sweeper.recall.tasks import looked_at, one_task, put_back
from sweeper.records import Sheet
from sweeper.render.job import Job, MixFile, Rendered, StoredStep
from sweeper.render.jobs import mix_file, tag_of
from sweeper.render.orders import Measured
from sweeper.render.versions import versions
from sweeper.workers import Pool

#: What has to be cleared away when a render came to nothing.
CleanUp = Callable[[], None]


@dataclass(frozen=True)
class Prepared:
    """A master that can be rendered. start: what came back from outside then, None = it begins with the mix."""

    found: Found
    stages: tuple[SetUp, ...]
    setups: tuple[StageSetup, ...]
    mix: Measured
    start: StoredStep | None
    since: Since

    @property
    def format(self) -> AudioFormat:
        """Of the mix."""
        return self.mix.file.format


def prepared(found: Found, asked: Asked, pool: Pool) -> Prepared:
    """Find the mix, the plugins and the states of a sheet, load every plugin, and see what has changed.

    Raises AudioFileError when the mix is not the same music, SheetError, PluginError.
    """
    stages = set_up(found, asked.results)
    start = came_back(found, asked.results)
    covered = start.covered if start is not None else 0
    setups = required(stages, covered)
    mix = same_music(found.sheet.source, found.run, asked.mix, pool)
    sheet = found.sheet
    order = LookOrder(setups[covered:], mix.file.format, sheet.block_frames, asked.patience_s)
    records = zip(sheet.stages[covered:], looked_at(order, pool), strict=True)
    # a delay may be known only once it has rendered: it is held against the sheet then
    now = tuple(replace(record, latency_frames=then.latency_frames) for then, record in records)
    now_sheet = replace(sheet, source=mix_file(mix).source, stages=(*sheet.stages[:covered], *now), versions=versions())
    return Prepared(found, stages, setups, mix, start, since(sheet, now_sheet))


def job_of(sheet: Sheet, stages: tuple[StageSetup, ...], mix: MixFile, target: Path, tag: str, now: datetime,
           patience_s: float) -> Job:  # fmt: skip
    """One render of the stages as they are: nothing is solved."""
    return Job(
        variant=sheet.variant, title=sheet.title, mix=mix, sections={}, stages=stages, reach=(), target=target, tag=tag,
        date=f"{now:%Y-%m-%d}", time=f"{now:%H:%M:%S}", patience_s=patience_s, block_frames=sheet.block_frames,
        handles=tuple(stage.handles for stage in sheet.stages), parent=sheet.id,
    )  # fmt: skip


def job_for(ready: Prepared, target: Path, run: Path, asked: Asked, now: datetime) -> Job:
    """The job of a prepared master. run: the folder that it belongs to, for its id."""
    sheet = ready.found.sheet
    tag = tag_of(run, sheet.variant, now)
    job = job_of(sheet, ready.setups, mix_file(ready.mix), target, tag, now, asked.patience_s)
    return replace(job, start=ready.start)


def rendered(ready: Prepared, job: Job, pool: Pool, clean_up: CleanUp) -> tuple[Rendered, Job, list[str]]:
    """The render, and the job that made it; when it differs, once more with controls put back that nobody set and that
    stand elsewhere now; and which of those could not be put back, in words.

    A plugin may move such a control by itself while it plays, so that the first render is the likelier one.
    """
    sheet = ready.found.sheet
    first = one_render(job, pool, clean_up)
    if first.audio_sha256 == sheet.audio_sha256:
        return first, job, []
    astray = tuple(moved(then, now) for then, now in zip(sheet.stages, first.stages, strict=True))
    if not any(astray):
        return first, job, []
    kept = put_back(StandingOrder(job.stages, astray, ready.format, job.block_frames, job.patience_s), pool)
    refused = [f"'{stage.name}': '{one.name}' stood at {one.text} and cannot be put back there"
               for stage, those in zip(sheet.stages, kept.refused, strict=True) for one in those]  # fmt: skip
    if not any(kept.taken):
        return first, job, refused
    job.target.unlink()
    stages = tuple(with_settings(setup, more) for setup, more in zip(job.stages, kept.taken, strict=True))
    job = replace(job, stages=stages)
    return one_render(job, pool, clean_up), job, refused


def one_render(job: Job, pool: Pool, clean_up: CleanUp) -> Rendered:
    """Render a job in a worker. Raises as `one_task` does, with what it left cleared away."""
    try:
        made = one_task(pool, "sweeper.render.task:render_variant", job, f"variant {job.variant}")
    except SweeperError:
        clean_up()
        raise
    assert isinstance(made, Rendered)
    return made
