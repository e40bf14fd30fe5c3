"""Proposed sections as lines of a chain file, and as data."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from sweeper.chain.template import yaml_text
from sweeper.render.proposing import Proposal, Proposed
from sweeper.units import clock

# Both ours, not tried otherwise.
AS_LOUD_LU = 0.5  # less is not told
BALANCE_DB = 1.5  # bass or top against the mids: less is not told


def lines_of(found: Proposal, mix: Path) -> list[str]:
    """The lines to paste, in place of `mix:` of a chain file in this folder. mix: as it is to be written."""
    lines = [f"# {remark}" for remark in found.remarks]
    if not found.sections:
        return lines
    names = [f'    {one.name}: "{clock(one.start_s)}-{clock(one.end_s)}"' for one in found.sections]
    width = max(map(len, names))
    told = [f"{name.ljust(width)}   # {words_of(one)}" for name, one in zip(names, found.sections, strict=True)]
    return [*lines, "mix:", f"  file: {yaml_text(mix.as_posix())}", "  sections:", *told]


def words_of(one: Proposed) -> str:
    """-14.0 LUFS, loudest, like b1; 4.2 LU louder, brighter than before"""
    words = [f"{one.loudness_lufs:.1f} LUFS"]
    words += ["loudest"] if one.loudest else []
    words += [f"like {', '.join(one.alike)}"] if one.alike else []
    return ", ".join(words) + (f"; {_change(one)}" if one.louder_lu is not None else "")


def data_of(found: Proposal) -> dict[str, object]:
    """The proposal as one object."""
    return {
        "schema": 1, "file": str(found.file.path), "duration_s": found.file.duration_s,
        "sections": [dataclasses.asdict(one) for one in found.sections], "remarks": list(found.remarks),
    }  # fmt: skip


def _change(one: Proposed) -> str:
    """How a section differs from the one before."""
    louder_lu = one.louder_lu or 0.0
    level = "as loud" if abs(louder_lu) < AS_LOUD_LU else \
        f"{abs(louder_lu):.1f} LU {'louder' if louder_lu > 0 else 'quieter'}"  # fmt: skip
    bass = _more(one.more_bass_db, "more bass", "less bass")
    top = _more(one.more_top_db, "brighter", "darker")
    told = [level, *bass, *top]
    return ", ".join(told if len(told) > 1 or level != "as loud" else [level, "another spectrum"])


def _more(change_db: float | None, more: str, less: str) -> list[str]:
    if change_db is None or abs(change_db) < BALANCE_DB:
        return []
    return [more if change_db > 0 else less]
