"""Messages survive the way; what cannot be rebuilt is a message too."""

from __future__ import annotations

import pickle

import pytest

from sweeper.workers.messages import Beat, Message, Phase, Raised, Returned, Unreadable, packed, unpacked


@pytest.mark.parametrize("message", [Phase("loading", 5), Beat("0:01.0", 0.5), Returned([1]), Raised("", None)])
def test_a_message_survives(message: Message) -> None:
    assert unpacked(packed(message)) == message


def test_what_cannot_be_rebuilt_is_said_to_be_so() -> None:
    unreadable = unpacked(packed(Returned(1))[:-5])
    assert isinstance(unreadable, Unreadable)
    assert isinstance(unreadable.error, pickle.UnpicklingError | EOFError)
