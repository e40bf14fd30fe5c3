"""What the report says, as plain texts and numbers: the chain, what was aimed at, the variants, the picks, caveats."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweeper.audition.chance import chance_words
from sweeper.audition.preview import playback_data
from sweeper.audition.standing import limits_of, targets_of
from sweeper.chain.one_condition import preferences_in
from sweeper.errors import SheetError, SweeperError
from sweeper.host.resolve import tidy
from sweeper.quantities import Measurements, quantity_of
from sweeper.records import SHEET_NAME, Sheet, StageRecord
from sweeper.records.picks import DROP, KEEP, MAYBE, Picks
from sweeper.render.folder import RUN_NAME
from sweeper.table.frame import merged
from sweeper.table.picks import pick_of, rated_words, unfinished_words
from sweeper.table.row import Row
from sweeper.table.written import WrittenFile, WrittenRun
from sweeper.units import clock

#: Of every variant and file, before what is preferred.
SHOWN = ("loudness_lufs", "true_peak_dbtp", "loudness_range_lu", "crest_loud_db", "psr_db")
ORDER = {KEEP: 0, MAYBE: 1, "": 2, DROP: 3}
ALWAYS_SO = (
    "Loudness is measured to ITU-R BS.1770-5, loudness range to EBU Tech 3342, true peak to BS.1770-5 Annex 2; "
    "another meter may read a true peak some tenths of a decibel apart.",
    "What players make of a master is worked out from its measurements; services differ, and change what they do.",
    "Match gains make variants equally loud for listening; they are not in the masters.",
)


@dataclass(frozen=True)
class Told:
    """A run as far as a report tells it. private: with the chain and its settings."""

    run: WrittenRun
    picks: Picks | None
    ledger: dict[str, Any]
    private: bool

    @property
    def rows(self) -> list[Row]:
        """Those that were rendered: what was picked first, then by rank."""
        done = [row for row in self.run.rows if row.done]
        return sorted(done, key=lambda row: (ORDER[pick_of(self.picks, row.id).verdict], row.rank is None,
                                             row.rank or 0, row.id))  # fmt: skip

    def shown(self, most: int) -> list[Row]:
        """The variants whose picture is drawn: what is to be kept, else the first few that have their sound."""
        there = [row for row in self.rows if "render" in row.files and (self.run.path / row.files["render"]).is_file()]
        kept = [row for row in there if pick_of(self.picks, row.id).verdict == KEEP]
        return (kept or there)[:most]

    def content(self) -> dict[str, Any]:
        """Everything but the pictures."""
        keys = self._keys()
        return {
            "title": self.run.title, "started": str(self.ledger.get("started", ""))[:10], "private": self.private,
            "state": self.run.state, "run": self.run.path.absolute().name,
            "headings": [_heading(key) for key in keys],
            "files": [_file_line("mix", one, keys) for one in self.run.mixes]
            + [_file_line("reference", one, keys) for one in self.run.references],
            "variants": [self._variant(row, keys) for row in self.rows],
            "settings": merged([list(row.settings) for row in self.rows]) if self.private else [],
            "several": len(self.run.mixes) > 1,
            "failed": [{"id": row.id, "cause": row.cause if self.private else ""}
                       for row in self.run.rows if row.failed],
            "chain": self._chain() if self.private else None,
            "playback": self._playback(), "heard": self._heard(), "caveats": self._caveats(),
        }  # fmt: skip

    def _keys(self) -> list[str]:
        try:
            wished = [wish.key for wish in preferences_in(self.run.chain_text, RUN_NAME)]
        except SweeperError:  # of another version: the usual ones do
            wished = []
        return list(dict.fromkeys((*SHOWN, *(key for key in wished if self.private or "." not in key))))

    def _variant(self, row: Row, keys: Sequence[str]) -> dict[str, Any]:
        pick = pick_of(self.picks, row.id)
        return {
            "id": row.id, "mix": Path(row.mix).name, "verdict": pick.verdict, "rank": row.rank,
            "notes": [{"at": "" if one.at_s is None else clock(one.at_s), "text": one.text} for one in pick.notes],
            "settings": dict(row.settings) if self.private else {},
            "numbers": [_number(row.measurements, key) for key in keys],
            "targets": targets_of(row, self.private), "limits": limits_of(row, self.private),
            "match_gain": "" if row.match_gain_db is None else f"{row.match_gain_db + 0.0:+.2f}",
            "why": row.why if self.private else "",
        }  # fmt: skip

    def _chain(self) -> dict[str, Any] | None:
        """The chain of the first variant, as its sheet has it; None where no sheet can be read."""
        for row in self.rows:
            place = self.run.path / "variants" / row.id / SHEET_NAME
            try:
                sheet = Sheet.from_data(json.loads(place.read_text("utf-8")), str(place))
            except (OSError, ValueError, SheetError):
                continue
            return {"of": row.id, "stages": [_stage(stage) for stage in sheet.stages], "varied": list(row.settings)}
        return None

    def _playback(self) -> list[dict[str, Any]]:
        """What players make of the variants that are to be kept, or of the first."""
        rows = self.shown(6) or self.rows[:1]
        return [{"id": row.id, "levels": playback_data(row.measurements)} for row in rows if row.measurements]

    def _heard(self) -> dict[str, Any]:
        """What was decided by ear beside the verdicts."""
        picks = self.picks
        if picks is None:
            return {"any": False, "trials": [], "rankings": [], "others": []}
        return {
            "any": bool(picks.picks or picks.trials or picks.ranking), "saved": picks.saved[:10],
            "trials": [f"{one.a} or {one.b}: {chance_words(one)}" for one in picks.trials]
            + [unfinished_words(begun) for begun in picks.unfinished if begun.of],
            "rankings": [{"mix": mix, "order": list(one.order), "inconsistent": list(map(list, one.inconsistent))}
                         for mix, one in sorted(picks.ranking.items())],
            "others": [rated_words(id, one) for id, one in sorted(picks.of_others.items()) if one.verdict or one.notes],
        }  # fmt: skip

    def _caveats(self) -> list[str]:
        answer = self.ledger.get("answer") or {}
        found = [f"The run is {self.run.state}: {len(self.run.rows)} of {self.run.asked} variants are in it."
                 ] if self.run.state != "finished" else []  # fmt: skip
        if self.private:
            found += [str(words) for words in (*answer.get("warnings", ()), *answer.get("trouble", ()))]
            by_note: dict[str, list[str]] = {}
            for row in self.run.rows:
                for note in row.notes:
                    by_note.setdefault(note, []).append(row.id)
            found += [f"{', '.join(ids)}: {note}" for note, ids in by_note.items()]
        if self.picks is None or not self.picks.of_variants:
            found.append("Nobody has written down a choice yet.")
        return [*found, *ALWAYS_SO]


def _file_line(kind: str, file: WrittenFile, keys: Sequence[str]) -> dict[str, Any]:
    gain = "" if file.match_gain_db is None else f"{file.match_gain_db + 0.0:+.2f}"
    return {"kind": kind, "name": Path(file.file).name, "numbers": [_number(file.measurements, key) for key in keys],
            "match_gain": gain}  # fmt: skip


def _heading(key: str) -> dict[str, str]:
    quantity = quantity_of(key)
    return {"name": quantity.name, "unit": quantity.unit}


def _number(measured: Measurements | None, key: str) -> str:
    value = measured.values.get(key) if measured else None
    return "" if value is None else f"{value + 0.0:.{quantity_of(key).decimals}f}"


def _stage(stage: StageRecord) -> dict[str, Any]:
    told = [f"{stage.channels}" if stage.channels not in ("", "stereo") else "",
            f"input trim {stage.input_trim_db:+.2f} dB" if stage.input_trim_db else "",
            f"output trim {stage.output_trim_db:+.2f} dB" if stage.output_trim_db else "",
            f"blend {100 * stage.blend:.0f} %" if stage.blend != 1 else "",
            "polarity inverted" if stage.inverted else "", f"on the bus {stage.bus}" if stage.bus else ""]  # fmt: skip
    return {
        "name": stage.name, "bypass": stage.bypass, "output": stage.output,
        "plugin": stage.outside or ("" if stage.is_fader else stage.plugin), "maker": stage.maker,
        "version": stage.version, "how": [words for words in told if words],
        "settings": [(f"{one.side} {one.name}".strip(), tidy(one.text) or one.asked) for one in stage.settings],
        "rides": [f"{one.name}: {one.setting} {'by' if one.relative else 'to'} {one.amount}" for one in stage.rides],
    }  # fmt: skip
