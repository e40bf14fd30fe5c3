"""Making rows from outcomes, and finishing them once every variant is in: match gains and ranks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sweeper.chain.model import Chain, Preference
from sweeper.chain.own_chain import chain_of
from sweeper.host.resolve import tidy
from sweeper.plan.own_told import AS_DIALLED, OwnTold
from sweeper.plan.reach_terms import ENDED_EARLIER
from sweeper.plan.sections import match_name
from sweeper.plan.variants import Variant
from sweeper.quantities import Measurements, quantity_of
from sweeper.records import StageRecord
from sweeper.render.job import Rendered
from sweeper.table.row import Row, solved_text
from sweeper.units import folded
from sweeper.verdict import Candidate, Leveled, hardly_differ, judge, match_gains_db, ranked
from sweeper.verdict.order import LEAST_DIFFERENCE, LOUDNESS
from sweeper.workers import Cause, Failed


def rendered_row(chain: Chain, variant: Variant, rendered: Rendered, files: Mapping[str, str]) -> Row:
    """The row of a variant that was rendered."""
    solved = {turn.text: solved_text(one) for turn, one in zip(variant.turns, rendered.solved, strict=True)}
    return Row(
        id=variant.id, mix=chain.mixes[variant.mix].written, status="done", cause="",
        settings={**_own(variant, rendered.stages), **_as_shown(variant.varied, rendered.stages), **solved},
        measurements=rendered.measurements,
        verdicts=judge(chain_of(chain, variant.mix).limits, rendered.measurements),
        solved=rendered.solved, notes=rendered.notes,
        passes=rendered.passes, excerpts=rendered.excerpts, plugin_s=rendered.plugin_s, files=files,
        own=tuple(one.name for one in variant.own),
    )  # fmt: skip


def _as_shown(varied: Mapping[str, str], stages: Sequence[StageRecord]) -> dict[str, str]:
    """What was chosen; a step from where a setting is dialled with what the plugin showed there: "-22 dB (+5 %)"."""
    shown = {}
    for ref, text in varied.items():
        own = (stage for stage in stages if ref.startswith(f"{stage.name}."))
        texts = {tidy(applied.text) for stage in own for applied in stage.settings if applied.asked == text}
        stepped = "dialled" in text and len(texts) == 1
        shown[ref] = f"{texts.pop()} ({text.removeprefix('dialled ')})" if stepped else text
    return shown


def _own(variant: Variant, stages: Sequence[StageRecord]) -> dict[str, str]:
    """What some mix has of its own, as this variant has it; with what the plugin showed where nothing set it."""
    return {own.name: _standing(own, stages) if own.text == AS_DIALLED else own.text for own in variant.own}


def _standing(own: OwnTold, stages: Sequence[StageRecord]) -> str:
    """What a control showed that nobody set; "as dialled" where that is not known, or not alike on all sides."""
    texts = {tidy(one.text) for stage in stages if stage.name == own.stage for one in stage.standing
             if folded(one.name) == folded(own.control) and own.side in ("", one.side)}  # fmt: skip
    return texts.pop() if len(texts) == 1 else own.text


def failed_row(chain: Chain, variant: Variant, failed: Failed) -> Row:
    """The row of a variant that came to nothing, with the cause in one sentence."""
    return Row(variant.id, chain.mixes[variant.mix].written, "failed", cause_of(failed),
               {**_own(variant, ()), **variant.varied}, own=tuple(one.name for one in variant.own))  # fmt: skip


def cause_of(failed: Failed) -> str:
    """Why a variant failed: what its error says, or how its process ended, where and at what time."""
    if failed.cause is Cause.ERROR and failed.error is not None:
        what = getattr(failed.error, "what", None) or f"{type(failed.error).__name__}: {failed.error}"
        remedy = getattr(failed.error, "remedy", "")
        return f"{what} ({remedy})" if remedy else str(what)
    return failed.what


def in_order(found: Sequence[Variant], rows: Mapping[str, Row]) -> list[Row]:
    """The rows that are in, in the plan's order, whoever finished first."""
    return [rows[variant.id] for variant in found if variant.id in rows]


def matched_rows(
    chain: Chain, rows: Sequence[Row], mixes: Sequence[Measurements]
) -> tuple[list[Row], list[float | None]]:
    """The rows with their match gains, and the gain of each mix; each mix with its own variants.

    mixes: the measurements of the mixes as they are, in the chain's order.
    """
    finished = {row.id: row for row in rows}
    mix_gains: list[float | None] = []
    for mix, measurements in zip(chain.mixes, mixes, strict=True):
        own = [row for row in rows if row.mix == mix.written and row.done]
        files = [_leveled(chain, m) for m in (measurements, *(r.measurements for r in own)) if m is not None]
        gain, *gains = match_gains_db(files)
        mix_gains.append(gain)
        for row, row_gain in zip(own, gains, strict=True):
            finished[row.id] = replace(row, match_gain_db=row_gain)
    return [finished[row.id] for row in rows], mix_gains


def _leveled(chain: Chain, measurements: Measurements) -> Leveled:
    stretch = measurements.sections.get(match_name(chain.match_over), measurements)
    return Leveled(stretch["loudness_lufs"], measurements["true_peak_dbtp"])


def ranked_rows(chain: Chain, rows: Sequence[Row]) -> list[Row]:
    """The rows as the file wants them, each mix by itself: best first where something is preferred."""
    return ranked_by(chain.prefer, rows)


def ranked_by(prefer: Sequence[Preference], rows: Sequence[Row]) -> list[Row]:
    """The rows, each mix by itself, best first; without preferences as they came. Mixes in the order of their rows."""
    by_id = {row.id: row for row in rows}
    order = [place for own in _of_each_mix(rows) for place in ranked(_candidates(own), prefer)]
    return [replace(by_id[one.id], rank=one.rank, front=one.front) for one in order]


def order_warnings(rows: Sequence[Row], prefer: Sequence[Preference]) -> tuple[str, ...]:
    """A warning, in words, for each mix whose variants hardly differ in what is preferred."""
    groups = _of_each_mix(rows)
    found = [(own[0].mix, words) for own in groups
             for words in (hardly_differ(_candidates(own), prefer), _loudness_apart(own, prefer)) if words]  # fmt: skip
    return tuple(words if len(groups) == 1 else f"{mix}: {words}" for mix, words in found)


def _loudness_apart(rows: Sequence[Row], prefer: Sequence[Preference]) -> str | None:
    """Words when variants that were stopped before their loudness are ranked by something else at other loudness."""
    fitting = [row for row in rows if row.fits]
    stopped = any(one.key == LOUDNESS and one.ending in ENDED_EARLIER
                  for row in fitting for one in row.solved)  # fmt: skip
    if not stopped or not prefer or prefer[0].key == LOUDNESS:
        return None
    values = [row.measurements[LOUDNESS] for row in fitting if row.measurements is not None]
    known = [value for value in values if value is not None]
    apart = max(known, default=0.0) - min(known, default=0.0)
    if apart < LEAST_DIFFERENCE["LU"]:
        return None
    return (f"loudness was stopped at different places, up to {apart:.1f} LU apart: "
            f"an order by {quantity_of(prefer[0].key).name} may favour the quieter")  # fmt: skip


def _of_each_mix(rows: Sequence[Row]) -> list[list[Row]]:
    return [[row for row in rows if row.mix == mix] for mix in dict.fromkeys(row.mix for row in rows)]


def _candidates(rows: Sequence[Row]) -> list[Candidate]:
    return [Candidate(row.id, row.done, row.fits, _compared(row.measurements)) for row in rows]


def _compared(measurements: Measurements | None) -> dict[str, float | None]:
    return {key: measurements.compared(key) for key in measurements.values} if measurements else {}
