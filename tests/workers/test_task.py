"""What becomes of a task's outcome."""

from __future__ import annotations

import pytest

from sweeper.errors import AudioFileError, PluginError
from sweeper.workers import Cause, Done, Failed, value_of


def otherwise(failed: Failed) -> Exception:
    return PluginError(f"it {failed.what}")


def test_a_value_is_given():
    assert value_of(Done("1", 2.5), float, otherwise) == 2.5


def test_another_kind_of_value_is_a_fault_of_ours():
    with pytest.raises(AssertionError):
        value_of(Done("1", "2.5"), float, otherwise)


@pytest.mark.parametrize(
    ("error", "kind", "words"),
    [(AudioFileError("a.wav is damaged"), AudioFileError, "a.wav is damaged"),
     (IndexError("ours"), PluginError, "it ended"), (None, PluginError, "it ended")],
)  # fmt: skip
def test_an_error_in_words_is_raised_and_the_rest_as_the_caller_has_it(error, kind, words):
    with pytest.raises(kind, match=words):
        value_of(Failed("1", Cause.ERROR, "ended", "", "", (), error), float, otherwise)
