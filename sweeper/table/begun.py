"""A run that was begun before: what was asked then, and what of it is finished."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sweeper.chain.model import Chain
from sweeper.errors import RunFolderError, SheetError
from sweeper.plan.examined import Examined
from sweeper.plan.exploration import Exploration, Recorded
from sweeper.plan.tree import Facts, variant_key
from sweeper.plan.variants import Variant
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.folder import RUN_NAME, RunFolder
from sweeper.render.job import Rendered
from sweeper.render.sheets import rendered_of

#: Stands beside the sheet of a variant whose sound was not kept.
NOT_KEPT_NAME = "not-kept.txt"


@dataclass(frozen=True)
class Begun:
    """What run.json says of a run. chain_file, text: of the chain, as it was read then. asked: everything, as data."""

    started: datetime
    chain_file: Path
    text: str
    asked: Mapping[str, Any]


def read_begun(folder: RunFolder) -> Begun:
    """What a run was begun with. Raises RunFolderError when run.json cannot be read or is of an earlier version."""
    path = folder.path / RUN_NAME
    try:
        data = json.loads(path.read_text("utf-8"))
        started = datetime.fromisoformat(data["started"]).replace(tzinfo=None)
        begun = Begun(started, Path(data["chain_file"]), data["chain"], data)
        _ = data["facts"]["sources"], [variant["key"] for variant in data["variants"]]
    except (OSError, ValueError, KeyError, TypeError) as exc:
        raise RunFolderError(f"{path} does not say how to go on with this run: {exc!r}",
                             "start a new run of its chain file") from exc  # fmt: skip
    return begun


def edited_since(begun: Begun) -> tuple[str, ...]:
    """What to say where the chain file is no longer what the run was begun with: nothing of it is taken over."""
    try:
        now = begun.chain_file.read_text("utf-8-sig")
    except (OSError, ValueError):  # moved or rewritten: the run has its own copy
        return ()
    if now.splitlines() == begun.text.splitlines():
        return ()
    return (f"{begun.chain_file.name} was edited since this run was begun, and the run went on with its own copy; "
            f"`sweeper run {begun.chain_file}` begins a new one with what it says now",)  # fmt: skip


def facts_data(facts: Facts) -> dict[str, object]:
    """Facts for run.json."""
    return {"sources": list(facts.sources), "programs": dict(facts.programs), "states": dict(facts.states),
            "block_frames": facts.block_frames, "sound_version": facts.sound_version}  # fmt: skip


def explored_before(begun: Begun, chain: Chain, examined: Examined, facts: Facts, more: int = 0) -> Exploration | None:
    """The exploration of a run, to be gone on with; None for a run of every combination. more: variants of each mix to
    add.

    Raises RunFolderError when what it asked for does not fit the chain any more.
    """
    if chain.explore is None:
        return None
    try:
        recorded = Recorded.from_data(begun.asked["explore"])
        return Exploration(chain, examined, recorded.with_more(more) if more else recorded)
    except (ValueError, KeyError, TypeError) as exc:
        refuse_changes(begun, chain, (), facts)
        raise RunFolderError(f"run.json does not say how to go on with this exploration: {exc!r}",
                             "start a new run of its chain file") from exc  # fmt: skip


def refuse_more(begun: Begun, chain: Chain) -> None:
    """Raises RunFolderError for a run that nothing can be added to: it explores nothing, or is not finished."""
    if chain.explore is None:
        raise RunFolderError("this run renders every combination: there is nothing to add",
                             f"vary more in {begun.chain_file.name} and run that; what is rendered is not rendered "
                             "again")  # fmt: skip
    if begun.asked.get("state") != "finished":
        raise RunFolderError("this run is not finished yet: nothing can be added to it",
                             "go on with it first, without --more")  # fmt: skip


def refuse_changes(begun: Begun, chain: Chain, found: Sequence[Variant], facts: Facts,
                   moved: Mapping[str, Path] | None = None) -> None:  # fmt: skip
    """Raises RunFolderError, naming them, when mixes, plugins, states or variants are no longer what they were.

    moved: where files lie now, by the paths that they had then.
    """
    names = {str(now): before for before, now in (moved or {}).items()}
    then = begun.asked["facts"]
    changed = []
    for mix, before, after in zip(chain.mixes, then["sources"], facts.sources, strict=False):
        changed += [f"the mix {mix.written}"] if before != after else []
    files = (("the plugin", then["programs"], facts.programs), ("the state file", then["states"], facts.states))
    for kind, were, now_are in files:
        are = {names.get(name, name): sha256 for name, sha256 in now_are.items()}
        changed += [f"{kind} {name}" for name in sorted({*were, *are}) if were.get(name) != are.get(name)]
    keys = [[v.id, variant_key(v, facts)] for v in found]
    if not changed and keys != [[v["id"], v["key"]] for v in begun.asked["variants"]]:
        changed.append("what sweeper makes of the chain file")
    if changed:
        raise RunFolderError("since this run was begun this has changed: " + "; ".join(changed),
                             f"put it back as it was, or start a new run of {begun.chain_file}")  # fmt: skip


def finished(folder: RunFolder, found: Sequence[Variant]) -> dict[str, Rendered]:
    """The variants that are finished, by id: they have their sheet, and their sound or a note that it was not kept.

    Raises SheetError for a sheet that was altered.
    """
    done: dict[str, Rendered] = {}
    for variant in found:
        place = folder.path / "variants" / variant.id
        sheet = place / SHEET_NAME
        if sheet.is_file() and ((place / "render.wav").is_file() or (place / NOT_KEPT_NAME).is_file()):
            done[variant.id] = _rendered(sheet)
    return done


def _rendered(sheet: Path) -> Rendered:
    try:
        return rendered_of(Sheet.from_data(json.loads(sheet.read_text("utf-8")), str(sheet)))
    except (OSError, ValueError, KeyError, TypeError) as exc:
        remedy = "take it from a backup; or remove the variant's folder, and it is rendered anew"
        raise SheetError(f"{sheet}: the recall sheet cannot be used: {exc}", remedy) from exc
