"""A past master rendered again from its recall sheet, and held against what it was."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sweeper.audio import AudioFormat, inspect
from sweeper.audio.null import Null, null_test
from sweeper.errors import SweeperError
from sweeper.host.setup import StageSetup
from sweeper.recall.differences import Difference, differences, moved
from sweeper.recall.find import RENDER_NAME, Found, old_render
from sweeper.recall.mix import same_music
from sweeper.recall.orders import StandingOrder
from sweeper.recall.outside import came_back
from sweeper.recall.repeating import unsteady
from sweeper.recall.setups import required, set_up, with_settings
from sweeper.recall.tasks import one_task, put_back
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, MixFile, Rendered
from sweeper.render.jobs import mix_file, tag_of
from sweeper.render.sheets import sheet_of
from sweeper.workers import Pool


def _nothing(event: dict[str, object]) -> None:
    """Where nobody watches."""


@dataclass(frozen=True)
class Asked:
    """Where and how a master is made again. mix: where the mix lies now, None = where the sheet has it.

    results: the folder with the runs, which gets the new one too. patience_s: how long a plugin may show no sign of
    life. watch: is told every event of the worker.
    """

    results: Path = Path("results")
    mix: Path | None = None
    patience_s: float = 60.0
    watch: Callable[[dict[str, object]], None] = _nothing


@dataclass(frozen=True)
class Recalled:
    """A master made again. then: its sheet; now: the new one. folder: the new run's. render: the new sound file.

    old: the sound file that it was held against, None when that is not there as it was; then `null` is None too.
    notes: what an engineer should know besides.
    """

    then: Sheet
    now: Sheet
    folder: Path
    render: Path
    old: Path | None
    null: Null | None
    differences: tuple[Difference, ...]
    notes: tuple[str, ...]

    @property
    def identical(self) -> bool:
        """Sample for sample what it was."""
        return self.now.audio_sha256 == self.then.audio_sha256 or (self.null is not None and self.null.identical)


def again(found: Found, asked: Asked) -> Recalled:
    """Render the sheet's settings in a new run folder, and null the result against the old file.

    Raises AudioFileError when the mix is not the same music, SheetError, PluginError, RunFolderError.
    """
    stages = set_up(found, asked.results)
    start = came_back(found, asked.results)
    setups = required(stages, start.covered if start is not None else 0)
    with Pool(1, asked.watch) as pool:
        mix = same_music(found.sheet.source, asked.mix, pool)
        now = datetime.now()
        with RunFolder.create(asked.results, f"recall {found.sheet.title}", now) as folder:
            for stage in stages:
                if stage.setup.state is not None:
                    folder.keep(stage.setup.state, "states")
            job = job_of(found.sheet, setups, mix_file(mix), folder, now, asked.patience_s)
            job = replace(job, start=start)
            rendered, refused = _rendered(found.sheet, job, mix.file.format, pool, folder)
            made = _held_against(found, job, rendered, folder)
            unsteady = () if made.identical else tuple(_unsteady_words(found.sheet))
            new = (note for note in rendered.notes if note not in found.sheet.notes)
            notes = (*(stage.note for stage in stages), *made.notes, *unsteady, *refused, *new)
            made = replace(made, notes=tuple(note for note in notes if note))
            folder.write_json("null-test.json", answer(made, found))
            return made


def _held_against(found: Found, job: Job, rendered: Rendered, folder: RunFolder) -> Recalled:
    """The new sheet written, and the new render held against the old one."""
    sheet = replace(sheet_of(job, rendered), reach=found.sheet.reach)
    folder.write_json(f"variants/{job.variant}/{SHEET_NAME}", sheet.as_data())
    old, notes = old_render(found)
    null = null_test(inspect(job.target), inspect(old)) if old is not None else None
    return Recalled(found.sheet, sheet, folder.path, job.target, old, null, differences(found.sheet, sheet), notes)


def _unsteady_words(sheet: Sheet) -> Iterator[str]:
    for stage in unsteady([sheet]):
        yield (f"'{stage.name}' ({stage.plugin}) never gives the same twice: two renders of it differ by "
               f"{stage.floor_dbfs:.1f} dBFS on the mix, by `check --twice`")  # fmt: skip


def job_of(sheet: Sheet, stages: tuple[StageSetup, ...], mix: MixFile, folder: RunFolder, now: datetime,
           patience_s: float) -> Job:  # fmt: skip
    """One render of the stages as they are: nothing is solved."""
    return Job(
        variant=sheet.variant, title=sheet.title, mix=mix, sections={}, stages=stages, reach=(),
        target=folder.variant(sheet.variant) / RENDER_NAME, tag=tag_of(folder.path, sheet.variant, now),
        date=f"{now:%Y-%m-%d}", time=f"{now:%H:%M:%S}", patience_s=patience_s, block_frames=sheet.block_frames,
    )  # fmt: skip


def _rendered(sheet: Sheet, job: Job, format: AudioFormat, pool: Pool,
              folder: RunFolder) -> tuple[Rendered, list[str]]:  # fmt: skip
    """The render; and, when it differs, once more with controls put back that nobody set and that stand elsewhere now.

    A plugin may move such a control by itself while it plays, so that the first render is the likelier one.
    """
    first = _one_render(job, pool, folder)
    if first.audio_sha256 == sheet.audio_sha256:
        return first, []
    astray = tuple(moved(then, now) for then, now in zip(sheet.stages, first.stages, strict=True))
    if not any(astray):
        return first, []
    kept = put_back(StandingOrder(job.stages, astray, format, job.block_frames, job.patience_s), pool)
    refused = [f"'{stage.name}': '{one.name}' stood at {one.text} and cannot be put back there"
               for stage, those in zip(sheet.stages, kept.refused, strict=True) for one in those]  # fmt: skip
    if not any(kept.taken):
        return first, refused
    job.target.unlink()
    stages = tuple(with_settings(setup, more) for setup, more in zip(job.stages, kept.taken, strict=True))
    return _one_render(replace(job, stages=stages), pool, folder), refused


def _one_render(job: Job, pool: Pool, folder: RunFolder) -> Rendered:
    try:
        rendered = one_task(pool, "sweeper.render.task:render_variant", job, f"variant {job.variant}")
    except SweeperError:
        folder.sweep_up(f"variants/{job.variant}")
        raise
    assert isinstance(rendered, Rendered)
    return rendered


def answer(made: Recalled, found: Found) -> Mapping[str, object]:
    """A recall for JSON."""
    null = made.null
    return {
        "schema": 1, "sheet": str(found.place), "id": made.then.id, "title": made.then.title,
        "variant": made.then.variant, "run": str(made.folder),
        "files": {"render": _inside(made, RENDER_NAME), "recall": _inside(made, SHEET_NAME)},
        "identical": made.identical, "held_against": str(made.old) if made.old else None,
        "null": None if null is None else {
            "peak_dbfs": null.peak_dbfs, "rms_dbfs": null.rms_dbfs, "at_s": null.at_s, "frame": null.frame,
            "channel": null.channel, "frames_now": null.frames[0], "frames_then": null.frames[1],
        },
        "differences": [{"what": d.what, "then": d.then, "now": d.now} for d in made.differences],
        "notes": list(made.notes),
    }  # fmt: skip


def _inside(made: Recalled, name: str) -> str:
    """A file of the variant, as seen from the run's folder."""
    return f"variants/{made.now.variant}/{name}"
