"""A past master rendered again from its recall sheet, and held against what it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.audio import inspect
from sweeper.audio.null import Null, null_test
from sweeper.recall.asked import Asked
from sweeper.recall.by_sound import RENDER_NAME
from sweeper.recall.differences import Difference
from sweeper.recall.find import Found, old_render
from sweeper.recall.orders import BehindOrder
from sweeper.recall.rendering import Prepared, job_for, prepared, rendered
from sweeper.recall.repeating import unsteady
from sweeper.recall.since import Since, since
from sweeper.recall.stagewise import Behind, first_other, old_sounds, stagewise, with_nulls
from sweeper.recall.tasks import written_behind
from sweeper.recall.verdict import Floor, Verdict, floor_of, verdict
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, Rendered
from sweeper.render.sheets import sheet_of
from sweeper.render.store import default_folder
from sweeper.render.store.by_sound import steps_that_gave
from sweeper.workers import Pool

NULL_TEST_NAME = "null-test.json"


@dataclass(frozen=True)
class Recalled:
    """A master made again. then: its sheet; now: the new one. folder: the new run's. render: the new sound file.

    old: the sound file that it was held against, None when that is not there as it was; then `null` is None too.
    stages: what each gives, held against then. floor: how well it repeats now; None where all is identical.
    notes: what an engineer should know besides.
    """

    then: Sheet
    now: Sheet
    folder: Path
    render: Path
    old: Path | None
    null: Null | None
    since: Since
    notes: tuple[str, ...]
    stages: tuple[Behind, ...] = ()
    floor: Floor | None = None

    @property
    def identical(self) -> bool:
        """Sample for sample what it was."""
        return self.now.audio_sha256 == self.then.audio_sha256 or (self.null is not None and self.null.identical)

    @property
    def differences(self) -> tuple[Difference, ...]:
        """Everything recorded that has changed."""
        return self.since.changed

    @property
    def verdict(self) -> Verdict:
        """Whether it came back."""
        return verdict(self.identical, self.null, self.floor)


def again(found: Found, asked: Asked) -> Recalled:
    """Render the sheet's settings in a new run folder, and null the result against the old file.

    Raises AudioFileError when the mix is not the same music, SheetError, PluginError, RunFolderError.
    """
    with Pool(1, asked.watch) as pool:
        ready = prepared(found, asked, pool)
        asked.told(ready.since)
        now = datetime.now()
        with RunFolder.create(asked.results, f"recall {found.sheet.title}", now) as folder:
            place = f"variants/{found.sheet.variant}"
            keep_states(ready, folder)
            job = job_for(ready, folder.variant(found.sheet.variant) / RENDER_NAME, folder.path, asked, now)
            made, job, refused = rendered(ready, job, pool, lambda: folder.sweep_up(place))
            told = held_against(ready, job, made, folder.path)
            folder.write_json(f"{place}/{SHEET_NAME}", told.now.as_data())
            told = looked_into(told, ready, job, made, asked, pool)
            told = replace(told, notes=tuple(dict.fromkeys((*told.notes, *refused))))
            folder.write_json(NULL_TEST_NAME, answer(told, found))
            return told


def keep_states(ready: Prepared, folder: RunFolder) -> None:
    """Copy the state files of a master into a new run, so that it can be made again from there."""
    for stage in ready.stages:
        if stage.setup.state is not None:
            folder.keep(stage.setup.state, "states")


def held_against(ready: Prepared, job: Job, made: Rendered, folder: Path) -> Recalled:
    """What was rendered, held against the old render, with what an engineer should know."""
    found = ready.found
    sheet = replace(sheet_of(job, made), reach=found.sheet.reach)
    old, gone = old_render(found)
    null = null_test(inspect(job.target), inspect(old)) if old is not None else None
    new = (note for note in made.notes if note not in found.sheet.notes)
    notes = tuple(note for note in (*(stage.note for stage in ready.stages), *gone, *new) if note)
    return Recalled(found.sheet, sheet, folder, job.target, old, null, since(found.sheet, sheet), notes,
                    stagewise(found.sheet, sheet))  # fmt: skip


def looked_into(told: Recalled, ready: Prepared, job: Job, made: Rendered, asked: Asked, pool: Pool) -> Recalled:
    """Where it is not the same: how well it repeats, and what the null test leaves behind each stage."""
    if told.identical:
        return told
    with TemporaryDirectory(prefix="sweeper-recall-", ignore_cleanup_errors=True) as place:
        floor = floor_of(made, job, told.now, Path(place) / RENDER_NAME, asked.watch)
        stages = with_nulls(told.stages, _stage_nulls(told, job, Path(place), asked, pool))
    return replace(told, floor=floor, stages=stages, notes=(*told.notes, *_unsteady_words(ready.found.sheet)))


def _stage_nulls(told: Recalled, job: Job, place: Path, asked: Asked, pool: Pool) -> dict[int, Null]:
    """The null test behind each stage whose sound of then is there still."""
    other, _ = first_other(told.stages)
    if other is None:
        return {}
    marks = [told.then.stages[stage.stage].gave[0].marks for stage in told.stages if stage.same is False]
    kept = steps_that_gave(asked.store or default_folder(), marks)
    there = old_sounds(told.then, told.stages, told.old, kept)
    nulls: dict[int, Null] = {}
    if there and told.old is not None and told.null is not None and told.stages[-1].stage in there:
        nulls[told.stages[-1].stage] = told.null
        there.pop(told.stages[-1].stage)
    if there:
        files = written_behind(BehindOrder(job, tuple(sorted(there)), place), pool)
        nulls |= {number: null_test(inspect(file), inspect(there[number]))
                  for number, file in zip(sorted(there), files, strict=True)}  # fmt: skip
    return nulls


def _unsteady_words(sheet: Sheet) -> Iterator[str]:
    for stage in unsteady([sheet]):
        yield (f"'{stage.name}' ({stage.plugin}) never gives the same twice: two renders of it differ by "
               f"{stage.floor_dbfs:.1f} dBFS on the mix, by `check --twice`")  # fmt: skip


def answer(made: Recalled, found: Found) -> Mapping[str, object]:
    """A recall for JSON."""
    return {
        "schema": 1, "sheet": str(found.place), "id": made.then.id, "title": made.then.title,
        "variant": made.then.variant, "run": str(made.folder),
        "files": {"render": _inside(made, RENDER_NAME), "recall": _inside(made, SHEET_NAME)},
        **outcome(made),
        "found_by": found.how or ("its id" if found.sound else "its sheet"),
        "held_against": str(made.old) if made.old else None, "notes": list(made.notes),
    }  # fmt: skip


def outcome(made: Recalled) -> dict[str, object]:
    """The verdict, and everything that it rests on, for JSON."""
    null, (other, sure) = made.null, first_other(made.stages)
    return {
        "identical": made.identical, "verdict": made.verdict.value,
        "null": None if null is None else {
            "peak_dbfs": null.peak_dbfs, "rms_dbfs": null.rms_dbfs, "at_s": null.at_s, "frame": null.frame,
            "channel": null.channel, "first_s": null.first_s, "frames_now": null.frames[0],
            "frames_then": null.frames[1],
        },
        "first_stage": None if other is None else {**other.as_data(), "sure": sure},
        "stages": [stage.as_data() for stage in made.stages],
        "floor": made.floor.as_data() if made.floor else None,
        "same": list(made.since.same),
        "differences": [{"what": d.what, "then": d.then, "now": d.now} for d in made.since.changed],
    }  # fmt: skip


def _inside(made: Recalled, name: str) -> str:
    """A file of the variant, as seen from the run's folder."""
    return f"variants/{made.now.variant}/{name}"
