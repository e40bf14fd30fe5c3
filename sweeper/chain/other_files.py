"""Faults of files that are read as chain files are, and are none."""

from __future__ import annotations

from sweeper.errors import Problem


def retold(problem: Problem, kind: str, begin: str) -> Problem:
    """A fault in the words of the chain file's reader, about a file of another kind. begin: what to write first."""
    article = "an" if kind[0] in "aeiou" else "a"
    what, remedy = (
        text.replace("a chain file", f"{article} {kind}").replace("the chain file", f"the {kind}")
        for text in (problem.what, begin if "sweeper start" in problem.remedy else problem.remedy)
    )
    return Problem(problem.file, problem.line, problem.column, what, remedy)
