"""What a run leaves behind: its ledger (run.json, table.csv), recall sheets, and the listening copies to write."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

from sweeper import __version__
from sweeper.audio import BroadcastTag
from sweeper.chain.model import Chain
from sweeper.errors import Interrupted
from sweeper.plan.variants import Variant
from sweeper.records import SOUND_VERSION, Sheet
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, Rendered
from sweeper.render.jobs import reach_order, tag_of
from sweeper.render.matching import Copy
from sweeper.render.orders import Measured
from sweeper.render.work import counted
from sweeper.table.data import csv_text, row_data, solved_data
from sweeper.table.row import Row

#: Libraries whose version can change a rendered bit or a reported number.
_LIBRARIES = ("pedalboard", "numpy", "scipy", "soundfile")


@dataclass(frozen=True)
class Run:
    """A finished run. rows: in the table's order. trouble: missing listening copies, in words.

    data: what `run --json` prints.
    """

    folder: Path
    chain: Chain
    rows: tuple[Row, ...]
    mixes: tuple[Measured, ...]
    references: tuple[Measured, ...]
    warnings: tuple[str, ...]
    trouble: tuple[str, ...]
    data: dict[str, object]


class Ledger:
    """Writes what was asked, before anything is rendered, and what came of it."""

    def __init__(self, chain: Chain, folder: RunFolder, found: Sequence[Variant], mixes: Sequence[Measured],
                 references: Sequence[Measured], now: datetime) -> None:  # fmt: skip
        self.chain = chain
        self.folder = folder
        self._found = found
        self._mixes = tuple(mixes)
        self._references = tuple(references)
        self._now = now

    def _asked(self) -> dict[str, object]:
        return {
            "schema": 1,
            "title": self.chain.title,
            "started": self._now.astimezone().isoformat(timespec="seconds"),
            "chain_file": str(self.chain.path.absolute()),
            "chain": self.chain.text,
            "variants": [{"id": v.id, "mix": self.chain.mixes[v.mix].written, "varied": dict(v.varied)}
                         for v in self._found],
            "versions": versions(),
            "machine": {"system": platform.system(), "release": platform.release(), "processor": platform.machine()},
        }  # fmt: skip

    def write_asked(self) -> None:
        """run.json as it stands before the first render, and a copy of every state file that the chain names."""
        self.folder.write_json("run.json", {**self._asked(), "state": "running"})
        for stage in self.chain.stages:
            if stage.state is not None:
                self.folder.keep(stage.state, "states")

    def write_table(self, rows: Sequence[Row]) -> None:
        """table.csv with these rows."""
        self.folder.write_text("table.csv", csv_text(rows))

    def interrupted(self, rows: Sequence[Row]) -> Interrupted:
        """Write run.json and table.csv with what was finished; returns the error that says so."""
        for place in ("mixes", *(f"variants/{variant.id}" for variant in self._found)):
            self.folder.sweep_up(place)
        rows = [replace(row, files={k: v for k, v in row.files.items() if self._is_there(v)}) for row in rows]
        self.write_table(rows)
        self.folder.write_json("run.json", {**self._asked(), "state": "interrupted",
                                            "rows": [row_data(row) for row in rows]})  # fmt: skip
        done = sum(row.done for row in rows)
        kept = f"{done} of {len(self._found)} variants are finished and kept in {self.folder.path}"
        remedy = "their renders, recall sheets and table.csv are there" if done else "nothing had been finished"
        return Interrupted(f"stopped: {kept}", remedy)

    def _is_there(self, name: str) -> bool:
        return (self.folder.path / name).is_file()

    def write_answer(self, rows: Sequence[Row], mix_gains: Sequence[float | None], warnings: Sequence[str],
                     trouble: Sequence[str], wall_s: float) -> Run:  # fmt: skip
        """run.json and table.csv with everything; returns the run. trouble: listening copies that are missing."""
        rows = [replace(row, files={k: v for k, v in row.files.items() if self._is_there(v)}) for row in rows]
        data = {
            "schema": 1,
            "run": str(self.folder.path),
            "variants": [row_data(row) for row in rows],
            "mixes": [{**_file_data(mix), "match_gain_db": gain}
                      for mix, gain in zip(self._mixes, mix_gains, strict=True)],
            "references": [_file_data(reference) for reference in self._references],
            "warnings": list(warnings),
            "trouble": list(trouble),
            "work": _work(self.chain, self._found, rows, wall_s),
        }  # fmt: skip
        self.write_table(rows)
        self.folder.write_json("run.json", {**self._asked(), "state": "finished", "answer": data})
        return Run(self.folder.path, self.chain, tuple(rows), self._mixes, self._references, tuple(warnings),
                   tuple(trouble), data)  # fmt: skip


def _work(chain: Chain, found: Sequence[Variant], rows: Sequence[Row], wall_s: float) -> dict[str, object]:
    order = reach_order(chain)
    work = counted(found, {row.id: row.passes for row in rows}, order.stage if order else None)
    return {
        "variants": len(rows), "steps_done": work.done, "steps_predicted": work.predicted,
        "steps_reused": work.reused, "steps_recomputed": work.recomputed,
        "passes": sum(row.passes for row in rows),
        "plugin_s": round(sum(row.plugin_s for row in rows), 3), "wall_s": round(wall_s, 3),
    }  # fmt: skip


def _file_data(file: Measured) -> dict[str, object]:
    return {"file": str(file.file.path), "audio_sha256": file.audio_sha256,
            "measurements": file.measurements.as_data()}  # fmt: skip


def versions() -> dict[str, str]:
    """Everything of ours and under us that can change a rendered bit or a number."""
    own = {"sweeper": __version__, "sound": str(SOUND_VERSION), "python": platform.python_version()}
    return own | {name: version(name) for name in _LIBRARIES}


def sheet(chain: Chain, variant: Variant, job: Job, rendered: Rendered) -> Sheet:
    """The recall sheet of a rendered variant."""
    return Sheet(
        id=job.tag, title=chain.title, variant=variant.id, source=rendered.source, stages=rendered.stages,
        block_frames=job.block_frames, audio_sha256=rendered.audio_sha256,
        measurements=rendered.measurements.as_data(), reach=solved_data(rendered.solved),
        notes=rendered.notes, versions=versions(),
    )  # fmt: skip


def copies(folder: RunFolder, rows: Sequence[Row], mixes: Sequence[Measured], mix_gains: Sequence[float | None],
           now: datetime) -> list[Copy]:  # fmt: skip
    """The listening copies to write: of every finished variant, and of every mix as mixes/N-matched.wav."""
    found = [
        Copy((folder.path / row.files["render"]).absolute(), (folder.path / row.files["matched"]).absolute(),
             row.match_gain_db)
        for row in rows
        if row.match_gain_db is not None and row.done
    ]  # fmt: skip
    place = folder.subfolder("mixes")
    for number, (mix, gain) in enumerate(zip(mixes, mix_gains, strict=True), 1):
        if gain is not None:
            tag = BroadcastTag(tag_of(folder.path, f"mix {number}", now), f"{now:%Y-%m-%d}", f"{now:%H:%M:%S}")
            found.append(Copy(mix.file.path.absolute(), place / f"{number}-matched.wav", gain, tag))
    return found
