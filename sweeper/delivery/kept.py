"""A variant that is to be printed: its sheet, its render, and what its run's chain file says of printing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweeper.chain.model import Condition
from sweeper.chain.nearest import suggestion
from sweeper.chain.one_condition import read_condition_texts
from sweeper.chain.print_model import PrintWishes
from sweeper.chain.prints import wishes_in
from sweeper.errors import PrintError, RunFolderError
from sweeper.recall.by_sound import RENDER_NAME
from sweeper.recall.find import read_sheet
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.folder import RUN_NAME
from sweeper.table.data import row_from
from sweeper.table.row import Row
from sweeper.table.written import damaged, read_ledger

VARIANTS = "variants"


@dataclass(frozen=True)
class Kept:
    """run: the folder. chain_file, chain_text: of the run; None, "" for a variant made by `recall`, as is row."""

    run: Path
    id: str
    sheet: Sheet
    render: Path
    chain_file: Path | None
    chain_text: str
    row: Row | None
    wishes: PrintWishes

    @property
    def sheet_path(self) -> Path:
        """The recall sheet."""
        return self.render.with_name(SHEET_NAME)


@dataclass(frozen=True)
class Ceiling:
    """dbtp: None = none was asked for. why: where it comes from, in words."""

    dbtp: float | None
    why: str


def find_kept(run: Path, variant: str) -> Kept:
    """The variant of that number in a run's folder.

    Raises RunFolderError for a folder that is no run's, PrintError for a variant that is not there or has no sound
    file, SheetError, ChainFileError.
    """
    folder = run.parent if run.name == RUN_NAME and run.is_file() else run
    id = _id(folder, variant)
    place = folder / VARIANTS / id
    sheet = read_sheet(place / SHEET_NAME)
    render = place / RENDER_NAME
    if not render.is_file():
        raise PrintError(
            f"variant {id} of {folder} has no sound file: it was not kept",
            f"make it again, and print that: sweeper recall {place / SHEET_NAME}",
        )
    if not (folder / RUN_NAME).is_file():
        return Kept(folder, id, sheet, render, None, "", None, PrintWishes())
    _, data = read_ledger(folder)
    try:
        chain_file, text = Path(data["chain_file"]), str(data["chain"])
        row = _row(data, id)
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise damaged(folder / RUN_NAME, f"{type(exc).__name__}: {exc}") from exc
    return Kept(folder, id, sheet, render, chain_file, text, row, wishes_in(text, chain_file, chain_file.name))


def _id(folder: Path, variant: str) -> str:
    there = sorted(each.parent.name for each in (folder / VARIANTS).glob(f"*/{SHEET_NAME}"))
    if not there:
        what = "holds no variants" if folder.is_dir() else "is not there"
        raise RunFolderError(f"{folder} {what}", "name the folder of a run, as `sweeper run` printed it")
    wanted = variant.strip()
    id = next(
        (one for one in there if one == wanted or (wanted.isdigit() and one.isdigit() and int(one) == int(wanted))),
        None,
    )
    if id is None:
        raise PrintError(f"{folder} has no variant {wanted} with a recall sheet", suggestion(wanted, there[:12]))
    return id


def _row(data: dict[str, Any], id: str) -> Row | None:
    answer = data.get("answer") or {}
    rows = answer.get("variants", data.get("rows")) or ()
    return next((row_from(row) for row in rows if row["id"] == id), None)


def ceiling_of(kept: Kept) -> Ceiling:
    """The true peak that the variant was held under: the lowest that a reach or a limit of its run names."""
    found = [
        (float(goal), "what the variant was solved to")
        for reach in kept.sheet.reach
        if reach.get("measurement") == "true_peak_dbtp" and isinstance(goal := reach.get("goal"), int | float)
    ]
    found += [
        (limit.value, f"the limit {limit.text}")
        for limit in _limits(kept)
        if limit.key == "true_peak_dbtp" and limit.relation == "<="
    ]
    if not found:
        return Ceiling(None, "no ceiling: the chain file names none")
    dbtp, why = min(found)
    return Ceiling(dbtp, why)


def _limits(kept: Kept) -> tuple[Condition, ...]:
    if kept.row is None:
        return ()
    texts = list(dict.fromkeys(verdict.limit for verdict in kept.row.verdicts))
    return read_condition_texts(texts, RUN_NAME, kept=True)
