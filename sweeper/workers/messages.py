"""What goes over the connection between a child and its parent."""

from __future__ import annotations

import pickle
from dataclasses import dataclass


@dataclass(frozen=True)
class Order:
    """To the child: call this. argument: pickled; one that cannot be read is the task's own failure."""

    function: str
    argument: bytes


@dataclass(frozen=True)
class Ready:
    """The child waits for its next order: it has started, or has let go of all that its last task kept."""


@dataclass(frozen=True)
class Begun:
    """The order has arrived: from here on what happens is the task's doing."""


@dataclass(frozen=True)
class Phase:
    """A new phase; the next sign of life comes within limit_s."""

    what: str
    limit_s: float


@dataclass(frozen=True)
class Beat:
    """Still alive. position: in the reporter's words. share: 0 to 1 of the task done, None = unknown."""

    position: str
    share: float | None


@dataclass(frozen=True)
class Noted:
    """Something for the parent's log."""

    data: dict[str, object]


@dataclass(frozen=True)
class Returned:
    """The function's value: the task is over."""

    value: object


@dataclass(frozen=True)
class Raised:
    """The function raised: the task is over. error: None where the exception cannot be carried over."""

    what: str
    error: Exception | None


@dataclass(frozen=True)
class Unreadable:
    """Never sent: stands for a message whose contents the parent could not rebuild."""

    error: Exception


Message = Ready | Begun | Phase | Beat | Noted | Returned | Raised | Unreadable


def packed(message: Message | Order) -> bytes:
    """`message` as bytes. Raises whatever its contents raise when they do not pickle."""
    return pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)


def unpacked(data: bytes) -> Message:
    """The message in `data`; Unreadable where a value's own code fails while it is rebuilt."""
    try:
        message: Message = pickle.loads(data)
    except Exception as error:  # noqa: BLE001 - rebuilding a value may run any code of its class
        return Unreadable(error)
    return message
