"""Rows of a run that never was, for tests of tables and shortlists."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import Condition
from sweeper.chain.one_condition import read_condition_texts
from sweeper.plan.reach import Ending
from sweeper.quantities import Measurements
from sweeper.render.job import Solved
from sweeper.table.row import Row
from sweeper.verdict import judge


def measured(loudness: float = -10.0, peak: float = -1.0, crest: float | None = 9.0, **more: float) -> Measurements:
    """Measurements with the usual ones invented."""
    values: dict[str, float | None] = {
        "loudness_lufs": loudness, "true_peak_dbtp": peak, "crest_db": crest, "loudness_range_lu": 5.0,
        "plr_db": peak - loudness, **more,
    }  # fmt: skip
    return Measurements(values, {key: "silence" for key, value in values.items() if value is None})


def loudness_solved(value: float = -10.0, ending: Ending = Ending.ON_TARGET, why: str = "", at: float = 3.0) -> Solved:
    """A loudness reached by the limiter's drive."""
    return Solved("loudness_lufs", -10.0, value, ending, "limiter.drive", at, "dB", 3, why)


def peak_solved(value: float = -1.0, ending: Ending = Ending.ON_TARGET) -> Solved:
    """A true peak reached by the limiter's ceiling."""
    return Solved("true_peak_dbtp", -1.0, value, ending, "limiter.ceiling", -1.25, "dB", 3, "")


def limits(*texts: str) -> tuple[Condition, ...]:
    """Bounds as a chain file has them."""
    return read_condition_texts(texts, "limits")


def row(id: str, measurements: Measurements, held: Sequence[Condition] = (), solved: Sequence[Solved] = (),
        mix: str = "mix.wav", **more: object) -> Row:  # fmt: skip
    """A rendered row."""
    settings = {"glue.Threshold": f"-{id} dB", **{one.setting: f"{one.at:g} {one.unit}" for one in solved}}
    files = {kind: f"variants/{id}/{kind}.wav" for kind in ("render", "matched")}
    return Row(**{"id": id, "mix": mix, "status": "done", "cause": "", "settings": settings,
                  "measurements": measurements, "verdicts": judge(held, measurements), "solved": tuple(solved),
                  "match_gain_db": -2.0, "passes": 3, "files": files, **more})  # type: ignore[arg-type]  # fmt: skip


def failed(id: str, mix: str = "mix.wav") -> Row:
    """A row of a variant that failed."""
    return Row(id, mix, "failed", "stage 'glue' crashed at 0:12.0", {"glue.Threshold": f"-{id} dB"})
