"""Rows of variants tried on excerpts: kept from one day to the next, the best of them chosen, and put in the table."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sweeper.chain.model import Chain
from sweeper.errors import RunFolderError
from sweeper.plan.in_full import in_full
from sweeper.plan.variants import Variant
from sweeper.quantities import Measurements
from sweeper.render.folder import RunFolder
from sweeper.render.job import Rendered
from sweeper.render.listened import FOUND
from sweeper.table.data import row_data, row_from
from sweeper.table.frame import ON_EXCERPTS
from sweeper.table.row import OnExcerpts, Row
from sweeper.table.rows import ranked_rows, rendered_row

#: Told in the table beside what is named under limits and preferences.
ALWAYS = ("loudness_lufs", "true_peak_dbtp")
NOT_RENDERED = "tried on excerpts only, not rendered: the numbers marked so foretell the whole"


def tried_row(chain: Chain, variant: Variant, outcome: Rendered, folder: RunFolder) -> Row:
    """What a try came to, as if it were a render's row, and kept in the run's folder. Raises RunFolderError."""
    row = rendered_row(chain, variant, outcome, {})
    folder.subfolder(FOUND)
    folder.write_json(_name(row.id), row_data(row))
    return row


def tried_before(folder: RunFolder, found: Sequence[Variant]) -> dict[str, Row]:
    """The rows of the tries that a run has made, by id. Raises RunFolderError for one that cannot be read."""
    rows: dict[str, Row] = {}
    for variant in found:
        file = folder.path / _name(variant.id)
        try:
            rows[variant.id] = row_from(json.loads(file.read_text("utf-8")))
        except FileNotFoundError:
            continue
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as exc:
            raise RunFolderError(f"{file} cannot be understood: {exc!r}",
                                 "remove it, and the variant is tried anew") from exc  # fmt: skip
    return rows


def best_tried(chain: Chain, rows: Sequence[Row]) -> tuple[str, ...]:
    """The ids of those to render in full: the first few of each mix, as they rank on excerpts."""
    ranked = [row for row in ranked_rows(chain, rows) if row.done]
    found: list[str] = []
    for mix in dict.fromkeys(row.mix for row in ranked):
        own = [row.id for row in ranked if row.mix == mix]
        found += own[: in_full(chain, len(own))]
    return tuple(found)


def with_tried(chain: Chain, rows: Sequence[Row], tried: Mapping[str, Row]) -> list[Row]:
    """The rows, each with what it came to on excerpts; of each mix behind its renders those that were only tried, as
    they rank, and what failed last."""
    if not tried:
        return list(rows)
    there = {row.id for row in rows}
    told = [replace(row, on_excerpts=_told(chain, tried.get(row.id))) for row in rows]
    left = [only_tried(chain, row) for row in ranked_rows(chain, list(tried.values())) if row.id not in there]
    every = sorted([*told, *left], key=lambda row: (row.failed, row.tried_only))
    mixes = dict.fromkeys(mix.written for mix in chain.mixes)
    return [row for mix in mixes for row in every if row.mix == mix]


def only_tried(chain: Chain, row: Row) -> Row:
    """The row of a try as the table has it where nothing was rendered: no number where a render's would stand."""
    if not row.done:
        return row
    own = list(row.settings)[len(row.settings) - len(row.solved) :]
    settings = {name: f"{text}{ON_EXCERPTS}" if name in own else text for name, text in row.settings.items()}
    return Row(row.id, row.mix, "tried", "", settings, notes=(NOT_RENDERED,), plugin_s=row.plugin_s, kept=False,
               on_excerpts=_told(chain, row), own=row.own)  # fmt: skip


def _told(chain: Chain, row: Row | None) -> OnExcerpts | None:
    """What is told of a try: what the chain file asks for, and how loud it is."""
    if row is None or row.measurements is None:
        return None
    asked = [*ALWAYS, *(reach.key for reach in chain.reach), *(verdict.key for verdict in row.verdicts),
             *(wish.key for wish in chain.prefer)]  # fmt: skip
    values, why = row.measurements.values, row.measurements.reasons
    keys = [key for key in dict.fromkeys(asked) if key in values]
    found = Measurements({key: values[key] for key in keys}, {key: why[key] for key in keys if key in why})
    return OnExcerpts(found, row.verdicts, row.solved, row.excerpts)


def _name(id: str) -> str:
    return f"{FOUND}/{id}.json"
