"""The table of what is inside the best: the whole first, the floor where nothing more is known."""

from __future__ import annotations

import io

from rich.console import Console

from sweeper.cli.show_inside import show_inside
from sweeper.quantities import Measurements
from sweeper.table.row import Row


def row(id: str, **stages: tuple[float | None, ...]) -> Row:
    keys = ("attenuation_db", "attenuation_most_db", "residue_db", "residue_floor_db", "distortion_pct",
            "distortion_floor_pct", "second_harmonic_db", "third_harmonic_db")  # fmt: skip
    values = {f"{name}.{key}" if name != "whole" else key: value
              for name, those in stages.items() for key, value in zip(keys, those, strict=True)}  # fmt: skip
    return Row(id, "mix.wav", "done", "", {}, Measurements(values), looked_into=True)


CLEAN = (0.0, 0.01, -149.0, -150.0, 0.0, 0.00002, None, None)
WARM = (1.234, 4.5, -40.04, -120.0, 1.5, 0.001, -36.5, -70.0)


def lines(*rows: Row) -> list[list[str]]:
    console = Console(width=100, record=True, file=io.StringIO(), color_system=None)
    show_inside(console, rows)
    return [line.split() for line in console.export_text().splitlines()]


def test_the_whole_chain_first_then_its_stages_in_their_order():
    told = lines(row("003", tube=WARM, whole=WARM, eq=CLEAN))
    assert ["003", "all", "1.23", "4.50", "-40.0", "1.500", "-36.5", "-70.0"] in told
    assert told.index(["tube", "1.23", "4.50", "-40.0", "1.500", "-36.5", "-70.0"]) + 1 == told.index(
        ["eq", "0.00", "0.01", "<", "-149.0", "<", "0.001", "-", "-"])  # fmt: skip


def test_of_many_only_the_whole_chains_are_shown():
    many = [row(f"{n:03}", whole=WARM, **{f"s{stage}": CLEAN for stage in range(6)}) for n in range(5)]
    told = lines(*many)
    assert sum(line[1:2] == ["all"] for line in told) == 5
    assert not any(line[:1] == ["s1"] for line in told)
    assert ["table.csv", "has", "every", "stage"] in told


def test_of_many_without_a_whole_only_the_way_to_them_is_told():
    """Of a chain with a stage outside nothing is told as a whole."""
    told = lines(*[row(f"{n:03}", **{f"s{stage}": CLEAN for stage in range(6)}) for n in range(5)])
    assert told[-1] == ["table.csv", "has", "every", "stage"]


def test_nothing_is_shown_where_nothing_was_looked_into():
    assert lines(Row("001", "mix.wav", "done", "", {}, Measurements({}))) == []
