"""Which insert stands where, for the orders that a chain file names."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.chain.sequence import in_place


@pytest.fixture
def orders(tmp_path: Path):
    """The names of the stages in every order of a sequence; A to E are inserts, L is an output stage."""
    (tmp_path / "a.wav").write_bytes(b"")

    def made(sequence: str) -> list[str]:
        inserts = ", ".join(f"{{name: {name}, plugin: {name}}}" for name in "ABCDE")
        stages = f"inserts: [{inserts}]\noutput: {{name: L, plugin: L}}\n"
        (tmp_path / "c.yaml").write_text(f"mix: a.wav\n{stages}vary: {{sequence: {sequence}}}\n")
        chain = load_chain(tmp_path / "c.yaml")
        names = [stage.name for stage in chain.stages]
        placed = [in_place(chain.stages, chain.sequence, order) for order in chain.sequence]
        return ["".join(names[number] for number in numbers) for numbers in placed]

    return made


def test_two_change_places_and_the_rest_stay(orders):
    assert orders("[[B, D], [D, B]]") == ["ABCDEL", "ADCBEL"]


def test_who_is_left_out_leaves_a_place_empty_from_the_end(orders):
    assert orders("[[B, C, D], [D], []]") == ["ABCDEL", "ADEL", "AEL"]


def test_an_insert_that_any_order_names_may_move_in_all_of_them(orders):
    assert orders("[[C, A], [E]]") == ["CBADL", "EBDL"]


def test_all_inserts_may_move_and_the_output_stays_last(orders):
    assert orders("[[E, D, C, B, A]]") == ["EDCBAL"]
