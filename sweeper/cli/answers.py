"""Answers for machines: one JSON object on stdout, with "schema": 1."""

from __future__ import annotations

import dataclasses
import json
import sys
from collections.abc import Mapping

from sweeper.errors import ChainFileError, SweeperError


def print_json(data: Mapping[str, object]) -> None:
    """Print one object. Raises ValueError when a number in it is not finite."""
    sys.stdout.write(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    sys.stdout.flush()


def error_data(error: SweeperError) -> dict[str, object]:
    """An error as an answer: its kind, what, remedy, and for a chain file every problem with its place."""
    problems = error.problems if isinstance(error, ChainFileError) else ()
    return {
        "schema": 1,
        "error": {
            "kind": type(error).__name__, "what": error.what, "remedy": error.remedy,
            "problems": [dataclasses.asdict(problem) for problem in problems],
        },
    }  # fmt: skip
