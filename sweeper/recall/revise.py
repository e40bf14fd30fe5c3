"""A client's revision: one measurement of a past master landed elsewhere, everything else as it was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.quantities import Measurements
from sweeper.recall.again import keep_states
from sweeper.recall.asked import Asked
from sweeper.recall.by_sound import RENDER_NAME
from sweeper.recall.change import Change, order_for, passed_goals, turned_by
from sweeper.recall.find import Found
from sweeper.recall.rendering import Prepared, job_for, one_render, prepared, rendered
from sweeper.recall.since import Since
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, Rendered, Solved
from sweeper.render.matched_null import MatchedNull, NullOrder, null_at_one_level
from sweeper.render.sheets import sheet_of
from sweeper.table.contributions import Change as Moved
from sweeper.table.contributions import change as moved
from sweeper.workers import Pool, Task, value_of

REVISION_NAME = "revision.json"


@dataclass(frozen=True)
class Revised:
    """A master with a revision. came_back: whether it was itself again before anything was changed.

    setting: what was turned; was, stands: its text before and after. before, after: what was measured; moved: the
    difference, at equal loudness too. null: what is left of one when the other is taken from it, equally loud; None =
    one of them is silent. passed: what was reached then and is not kept any more, in words.
    """

    then: Sheet
    now: Sheet
    folder: Path
    render: Path
    came_back: bool
    solved: Solved
    setting: str
    was: str
    stands: str
    before: Measurements
    after: Measurements
    moved: Moved
    null: MatchedNull | None
    since: Since
    passed: tuple[str, ...]
    notes: tuple[str, ...]


def revised(found: Found, asked: Asked, change: Change, by: str) -> Revised:
    """Make a master again, then solve the change by one setting, in a new run folder.

    It is rendered as it was first, so that everything that moves is known to move by the change alone.
    Raises as `again` does, and SheetError for a setting that there is not.
    """
    turned = turned_by(by, change, found.sheet)
    with Pool(1, asked.watch) as pool:
        ready = prepared(found, asked, pool)
        asked.told(ready.since)
        now = datetime.now()
        with (RunFolder.create(asked.results, f"revision {found.sheet.title}", now) as folder,
              TemporaryDirectory(prefix="sweeper-revision-", ignore_cleanup_errors=True) as place):  # fmt: skip
            keep_states(ready, folder)
            base = job_for(ready, Path(place) / RENDER_NAME, folder.path, asked, now)
            before, base, _ = rendered(ready, base, pool, lambda: None)
            order = order_for(change, turned, before.measurements)
            target = folder.variant(found.sheet.variant) / RENDER_NAME
            job = replace(base, target=target, reach=(order,), change=f"{change.text} by {turned.text}")
            after = one_render(job, pool, lambda: folder.sweep_up(f"variants/{job.variant}"))
            null = _null(base.target, target, before.measurements, after.measurements, pool)
            made = _revised(ready, job, before, after, null, folder.path, turned.stage)
            folder.write_json(f"variants/{job.variant}/{SHEET_NAME}", made.now.as_data())
            folder.write_json(REVISION_NAME, answer(made))
            return made


def _revised(ready: Prepared, job: Job, before: Rendered, after: Rendered, null: MatchedNull | None, folder: Path,
             stage: int) -> Revised:  # fmt: skip
    then, sheet, (solved,) = ready.found.sheet, sheet_of(job, after), after.solved
    was, stands = (_texts(each, stage, job) for each in (before, after))
    key = solved.key
    notes = [note for note in (*(s.note for s in ready.stages), *after.notes) if note and note not in then.notes]
    return Revised(
        then, sheet, folder, job.target, before.audio_sha256 == then.audio_sha256, solved, solved.setting, was, stands,
        before.measurements, after.measurements, moved(before.measurements, after.measurements), null, ready.since,
        tuple(passed_goals(then.reach, [key], before.measurements, after.measurements)), tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _texts(made: Rendered, number: int, job: Job) -> str:
    """Where the turned setting stands, as the plugin shows it; on several sides, of each."""
    record, order = made.stages[number], job.reach[0]
    own = {"input trim": f"{record.input_trim_db:.2f} dB", "output trim": f"{record.output_trim_db:.2f} dB",
           "blend": f"{100 * record.blend:.4g} %"}  # fmt: skip
    if order.setting in own:
        return own[order.setting]
    told = {(a.side, a.name): a for a in (*record.standing, *record.settings)}
    shown = [a.text for (side, name), a in told.items()
             if name.lower() == order.setting.lower() and order.side in ("", side)]  # fmt: skip
    return " / ".join(dict.fromkeys(shown)) or "?"


def _null(base: Path, revision: Path, before: Measurements, after: Measurements, pool: Pool) -> MatchedNull | None:
    """What is left of one when the other is taken from it, both equally loud."""
    one, other = before["loudness_lufs"], after["loudness_lufs"]
    if one is None or other is None:
        return None
    order = NullOrder(base, revision, 0.0, one - other)
    task = Task("null", f"{null_at_one_level.__module__}:{null_at_one_level.__name__}", order, "the null test")
    (outcome,) = pool.map_in_order([task])
    return value_of(outcome, MatchedNull, lambda failed: RuntimeError(failed.what))


def answer(made: Revised) -> Mapping[str, object]:
    """A revision for JSON."""
    return {
        "schema": 1, "id": made.now.id, "parent": made.then.id, "title": made.then.title, "variant": made.then.variant,
        "run": str(made.folder), "change": made.now.change,
        "files": {"render": f"variants/{made.now.variant}/{RENDER_NAME}",
                  "recall": f"variants/{made.now.variant}/{SHEET_NAME}"},
        "came_back_first": made.came_back, "reach": made.solved.as_data(),
        "setting": {"name": made.setting, "was": made.was, "stands": made.stands},
        "before": made.before.as_data(), "after": made.after.as_data(), "at_equal_loudness": made.moved.as_data(),
        "null": made.null.as_data() if made.null else None, "passed": list(made.passed), **made.since.as_data(),
        "notes": list(made.notes),
    }  # fmt: skip
