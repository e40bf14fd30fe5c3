"""Why variants were chosen, whose near-duplicates others are, and which nobody will hear apart, on the terminal."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from rich.markup import escape

from sweeper.shortlist import RULE, listed
from sweeper.table.row import Row

ON_FRONT = "^ on the trade-off front: nothing else is at least as good in every preference and better in one"


def front_remark(rows: Sequence[Row]) -> list[str]:
    """What the mark in the table means; nothing where there is none."""
    return [ON_FRONT] if any(row.front is not None for row in rows) else []


def choice_remarks(rows: Sequence[Row], choice: Mapping[str, Any], chosen: Collection[str], word: str) -> list[str]:
    """A line for each that was chosen or passed over, what a near-duplicate is, and what sounds the same; as markup.

    choice: as `Choice.as_data` has it. chosen: ids; word: what was done with them.
    """
    lines = []
    if choice["keep"] is not None:
        lines += [f"{row.id} {word if row.id in chosen else 'passed over'}: {row.why}" for row in rows if row.why]
        lines += [RULE] if any(pair["near"] and not pair["identical"] for pair in choice["pairs"]) else []
    same = choice["not_to_be_heard_apart"]
    lines += [f"you will not hear these apart: {listed(one['variants'])} ({one['why']})" for one in same]
    return [escape(line) for line in lines]
