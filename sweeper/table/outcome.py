"""What a run leaves behind beside its sound: run.json and table.csv."""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sweeper.chain.model import Chain
from sweeper.errors import Interrupted, RunFolderError, StoreError, SweeperError
from sweeper.plan.exploration import Exploration
from sweeper.plan.planned import Plan
from sweeper.plan.tree import Facts, variant_key
from sweeper.plan.variants import Variant
from sweeper.render.executor import Tally
from sweeper.render.folder import RUN_NAME, RunFolder
from sweeper.render.listened import FOUND
from sweeper.render.orders import Measured
from sweeper.render.versions import versions
from sweeper.table.agreement import agreements, excerpts_data, excerpts_words
from sweeper.table.begun import facts_data
from sweeper.table.data import csv_text, row_data
from sweeper.table.row import Row

TABLE_NAME = "table.csv"


@dataclass(frozen=True)
class Run:
    """A finished run. rows: in the table's order. trouble: missing listening copies, in words. explored: how it
    searched, and why it ended, in words; () = it rendered every combination.

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
    explored: tuple[str, ...] = ()


class Ledger:
    """Writes what was asked, before anything is rendered, and what came of it."""

    def __init__(self, chain: Chain, folder: RunFolder, found: Sequence[Variant], facts: Facts,
                 mixes: Sequence[Measured], references: Sequence[Measured], started: datetime) -> None:  # fmt: skip
        self.chain = chain
        self.folder = folder
        self.started = started
        self._found = found
        self._facts = facts
        self._mixes = tuple(mixes)
        self._references = tuple(references)
        self._explored: Mapping[str, object] | None = None
        self._keeps_states = False

    def _asked(self) -> dict[str, object]:
        return {
            "schema": 1,
            "title": self.chain.title,
            "started": self.started.astimezone().isoformat(timespec="seconds"),
            "chain_file": str(self.chain.path.absolute()),
            "chain": self.chain.text,
            "variants": [{"id": v.id, "mix": self.chain.mixes[v.mix].written, "varied": dict(v.varied),
                          "key": variant_key(v, self._facts)} for v in self._found],
            **({"explore": dict(self._explored)} if self._explored else {}),
            "facts": facts_data(self._facts),
            "versions": versions(),
            "machine": {"system": platform.system(), "release": platform.release(), "processor": platform.machine()},
        }  # fmt: skip

    def write_asked(self, found: Sequence[Variant], explored: Mapping[str, object] | None,
                    before: Mapping[str, object] | None = None) -> None:  # fmt: skip
        """run.json as it stands before anything of it is rendered, and a copy of every state file that the chain names.

        found: every variant so far. explored: what an exploration asked for so far. before: what run.json said of a run
        that goes on; its rows and its answer stay until there are new ones.
        """
        self._found, self._explored = found, explored
        kept = {key: before[key] for key in ("rows", "answer") if key in before} if before else {}
        self.folder.write_json(RUN_NAME, {**self._asked(), "state": "running", **kept})
        states = () if self._keeps_states else (choice.state for stage in self.chain.stages for choice in stage.choices)
        for state in states:
            if state is not None:
                self.folder.keep(state, "states")
        self._keeps_states = True

    def write_table(self, rows: Sequence[Row]) -> None:
        """table.csv with these rows."""
        self.folder.write_text(TABLE_NAME, csv_text(rows))

    def interrupted(self, rows: Sequence[Row]) -> Interrupted:
        """Write run.json and table.csv with what was finished; returns the error that says so."""
        self._write_unfinished(rows)
        return Interrupted(f"stopped: {self._kept(rows)}", self._go_on())

    def stopped(self, rows: Sequence[Row], error: SweeperError) -> SweeperError:
        """The same after an error that ends the run; returns what to raise: for a disk, with how to go on."""
        with suppress(RunFolderError):  # the disk may be what failed: the variants' own sheets hold everything
            self._write_unfinished(rows)
        if not isinstance(error, RunFolderError | StoreError):
            return error
        what = f"{error.what}\n    {self._kept(rows)}"
        return RunFolderError(what, f"{error.remedy}; then: {self._go_on()}")

    def _kept(self, rows: Sequence[Row]) -> str:
        done, tried = sum(row.done for row in rows), sum(row.on_excerpts is not None for row in rows)
        words = f"{tried} of {len(self._found)} variants are tried on excerpts, {done} rendered" if tried else (
            f"{done} of {len(self._found)} variants are finished")  # fmt: skip
        return f"{words} and kept in {self.folder.path}"

    def _write_unfinished(self, rows: Sequence[Row]) -> None:
        for place in ("", "mixes", FOUND, *(f"variants/{variant.id}" for variant in self._found)):
            self.folder.sweep_up(place)
        rows = self._with_files(rows)
        self.write_table(rows)
        files = {"mixes": [_file_data(mix) for mix in self._mixes],
                 "references": [_file_data(reference) for reference in self._references]}  # fmt: skip
        data = {**self._asked(), "state": "interrupted", "rows": [row_data(row) for row in rows], "answer": files}
        self.folder.write_json(RUN_NAME, data)

    def _go_on(self) -> str:
        return f"`sweeper run {self.folder.path}` goes on where it stopped"

    def _with_files(self, rows: Sequence[Row]) -> list[Row]:
        """The rows with those of their files that are there."""
        there = self.folder.path
        return [replace(row, files={k: v for k, v in row.files.items() if (there / v).is_file()}) for row in rows]

    def write_answer(self, rows: Sequence[Row], mix_gains: Sequence[float | None], warnings: Sequence[str],
                     trouble: Sequence[str], work: Mapping[str, object],
                     choice: Mapping[str, object], search: Exploration | None = None) -> Run:  # fmt: skip
        """run.json and table.csv with everything; returns the run. trouble: listening copies that are missing.

        choice: which variants were chosen to be heard, and why.
        """
        self._explored = search.as_data() if search else None
        rows = self._with_files(rows)
        agreed = agreements(self.chain, rows) if any(row.on_excerpts for row in rows) else ()
        data = {
            "schema": 1,
            "run": str(self.folder.path),
            "variants": [row_data(row) for row in rows],
            "mixes": [{**_file_data(mix), "match_gain_db": gain}
                      for mix, gain in zip(self._mixes, mix_gains, strict=True)],
            "references": [_file_data(reference) for reference in self._references],
            "warnings": list(warnings),
            "trouble": list(trouble),
            "work": dict(work),
            "choice": dict(choice),
            **({"explored": {**search.answer(), **excerpts_data(rows, agreed)}} if search else {}),
        }  # fmt: skip
        self.write_table(rows)
        self.folder.write_json(RUN_NAME, {**self._asked(), "state": "finished", "answer": data})
        return Run(self.folder.path, self.chain, tuple(rows), self._mixes, self._references, tuple(warnings),
                   tuple(trouble), data, (*search.words, *excerpts_words(rows, agreed)) if search else ())  # fmt: skip


def spared_warnings(tally: Tally) -> tuple[str, ...]:
    """That rows have failed without a try. Not in the rows, which are the same with any number of workers."""
    if not tally.spared:
        return ()
    were = "variant was" if tally.spared == 1 else "variants were"
    return (f"{tally.spared} {were} not tried: two with the same stage so set had ended before, in the words of their "
            "rows (`not tried` in log.jsonl names them)",)  # fmt: skip


def work_data(plans: Sequence[Plan], tally: Tally, folder: RunFolder, wall_s: float) -> dict[str, object]:
    """What was done, for run.json. plans: one after the other. `total_...`: with what was done each time that the run
    was at work."""
    worked = list(folder.logged("worked"))
    predicted = [plan.count.predicted for plan in plans]
    return {
        "variants": sum(len(plan.variants) for plan in plans), "steps_done": tally.steps,
        "steps_predicted": None if None in predicted else sum(steps or 0 for steps in predicted),
        "steps_in_store": sum(plan.count.found for plan in plans), "steps_unshared": tally.unshared,
        "steps_rebuilt": tally.rebuilt,
        "passes": tally.passes, "excerpts": round(tally.excerpts, 3), "plugin_s": round(tally.plugin_s, 3),
        "wall_s": round(wall_s, 3),
        "total_steps": sum(int(str(w["steps"])) for w in worked),
        "total_plugin_s": round(sum(float(str(w["plugin_s"])) for w in worked), 3),
    }  # fmt: skip


def _file_data(file: Measured) -> dict[str, object]:
    return {"file": str(file.file.path), "audio_sha256": file.audio_sha256,
            "measurements": file.measurements.as_data()}  # fmt: skip
