"""Errors cross from a worker to the parent, and say what and what to do. Exit codes are those of the table on top."""

from __future__ import annotations

import pickle
import re
from collections.abc import Iterator

import pytest

from sweeper import errors
from sweeper.errors import ChainFileError, Problem, StoreDamaged, SweeperError

PROBLEM = Problem("a.chain.yaml", 3, 7, "'lodness' is not known", "did you mean 'loudness'?")
#: As shells have it: 128 and SIGINT's number.
INTERRUPTED = 130


def kinds(kind: type[SweeperError] = SweeperError) -> Iterator[type[SweeperError]]:
    yield kind
    for below in kind.__subclasses__():
        yield from kinds(below)


def one(kind: type[SweeperError]) -> SweeperError:
    if kind is ChainFileError:
        return ChainFileError([PROBLEM, Problem("b.yaml", 0, 0, "it is empty")])
    return StoreDamaged("ab" * 32, "has altered samples") if kind is StoreDamaged else kind("what", "remedy")


@pytest.mark.parametrize("kind", list(kinds()), ids=lambda kind: kind.__name__)
def test_an_error_is_the_same_in_another_process(kind):
    error = one(kind)
    there = pickle.loads(pickle.dumps(error))
    assert type(there) is kind
    assert str(there) == str(error)
    assert vars(there) == vars(error)
    assert there.args == error.args
    assert there.exit_code == error.exit_code


def test_the_codes_are_those_that_the_table_promises():
    """Read off the text; an indented kind has the code of the one above it."""
    promised = dict(re.findall(r"^[├└]── (\w+) .* exit (\d+)", errors.__doc__, re.MULTILINE))
    assert {"ChainFileError", "PluginError", "Interrupted", "RecallMismatch"} <= set(promised)
    for name, code in promised.items():
        assert all(kind.exit_code == int(code) for kind in kinds(getattr(errors, name)))
    assert {kind.__name__ for kind in kinds()} - {"SweeperError"} == set(
        re.findall(r"[├└]── (\w+)", errors.__doc__))  # fmt: skip
    assert errors.Interrupted.exit_code == INTERRUPTED


def test_what_happened_is_a_line_and_the_remedy_the_next():
    assert str(SweeperError("it is full", "make room")) == "it is full\n    make room"
    assert str(SweeperError("it is full")) == "it is full"


def test_a_problem_stands_where_an_editor_finds_it():
    assert str(PROBLEM) == "a.chain.yaml:3:7: 'lodness' is not known\n    did you mean 'loudness'?"
    assert str(Problem("b.yaml", 0, 0, "it is empty")) == "b.yaml: it is empty"


def test_a_chain_file_tells_all_its_faults():
    error = one(ChainFileError)
    assert len(error.problems) == 2
    assert all(str(problem) in str(error) for problem in error.problems)


def test_a_damaged_step_names_the_key_whole_to_us_and_short_to_people():
    error = one(StoreDamaged)
    assert error.key == "ab" * 32
    assert "abababababab has altered samples" in error.what
    assert error.key not in str(error)
    assert error.remedy
