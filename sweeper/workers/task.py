"""What a worker is asked to do, and how that can end."""

from __future__ import annotations

import enum
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from sweeper.errors import SweeperError

T = TypeVar("T")


@dataclass(frozen=True)
class Task:
    """One call, made in the main thread of a child process.

    key: names the task in outcomes and events. function: "package.module:function", called there as
    function(argument, report). argument: anything that pickles. where: what it concerns, in words.
    """

    key: str
    function: str
    argument: object
    where: str


class Cause(enum.Enum):
    """Why a task failed."""

    CRASHED = "crashed"  # a signal, or a Windows exception, ended the process
    ENDED = "ended"  # the process ended by itself, with an exit code
    HUNG = "hung"  # no sign of life within the limit
    MEMORY = "memory"  # more memory than a worker may take
    ERROR = "error"  # the function raised an exception


@dataclass(frozen=True)
class Done:
    """The function returned `value`."""

    key: str
    value: object


@dataclass(frozen=True)
class Failed:
    """The task came to nothing.

    what: one sentence without a subject ("crashed with a segmentation fault (SIGSEGV) while loading").
    phase, position: the last ones reported. said: the last 20 lines that the child printed during the task.
    error: the exception, for Cause.ERROR, where it can be carried from one process to the other.
    """

    key: str
    cause: Cause
    what: str
    phase: str
    position: str
    said: tuple[str, ...]
    error: Exception | None


Outcome = Done | Failed


def value_of(outcome: Outcome, kind: type[T], otherwise: Callable[[Failed], Exception]) -> T:
    """What a task gave. Raises its own error where that says what is wrong, else what `otherwise` makes of it."""
    if isinstance(outcome, Failed):
        raise outcome.error if isinstance(outcome.error, SweeperError) else otherwise(outcome)
    assert isinstance(outcome.value, kind)
    return outcome.value
