"""Bounds and preferences from a command line are read as in a chain file."""

from __future__ import annotations

import pytest

from sweeper.chain.one_condition import preferences_in, read_condition_texts, read_preference_texts
from sweeper.errors import ChainFileError


def test_a_bound_is_read_as_in_a_chain_file():
    crest, peak = read_condition_texts(["crest >= 8,5 dB", "true peak ≤ −1 dBTP"], "--limit")
    assert (crest.key, crest.relation, crest.value, crest.text) == ("crest_db", ">=", 8.5, "crest >= 8,5 dB")
    assert (peak.key, peak.relation, peak.value) == ("true_peak_dbtp", "<=", -1.0)


def test_preferences_keep_their_order():
    found = read_preference_texts(["mono loss lowest", "crest highest"], "--prefer")
    assert [(one.key, one.highest) for one in found] == [("mono_loss_lu", False), ("crest_db", True)]


@pytest.mark.parametrize(
    ("texts", "what", "remedy"),
    [
        (["crst >= 8 dB"], "no measurement is called 'crst'", "did you mean 'crest'?"),
        (["crest > 8 dB"], "'crest > 8 dB' is no bound on a measurement", "write e.g. 'crest >= 8 dB'"),
        (["crest >= 8 LUFS"], "'8 LUFS' is in LUFS, crest is in dB", "write a number in dB"),
        (["crest >= 8 dB", "crest >= 9 dB"], "'crest >= 8 dB' and 'crest >= 9 dB' bound the same thing", "keep one"),
        (["crest >= 8 dB", "crest >= 8 dB"], "bound the same thing from the same side", "keep one"),
        (["  "], "has no value", "write one"),
    ],
)  # fmt: skip
def test_a_wrong_bound_is_told_with_its_option(texts, what, remedy):
    with pytest.raises(ChainFileError) as error:
        read_condition_texts(texts, "--limit")
    (problem,) = error.value.problems
    assert str(problem).startswith("--limit: ")
    assert what in problem.what
    assert remedy in problem.remedy


def test_a_bound_from_each_side_is_no_fault():
    assert len(read_condition_texts(["crest >= 8 dB", "crest <= 12 dB"], "--limit")) == 2


@pytest.mark.parametrize(
    ("texts", "what"),
    [(["crest"], "does not say what ranks first"), (["crest highest", "crest lowest"], "rank by the same measurement")],
)
def test_a_wrong_preference_is_told(texts, what):
    with pytest.raises(ChainFileError, match=what):
        read_preference_texts(texts, "--prefer")


def test_every_fault_is_told_at_once():
    with pytest.raises(ChainFileError) as error:
        read_condition_texts(["crst >= 8 dB", "crest >= loud"], "--limit")
    assert len(error.value.problems) == 2


def test_preferences_of_a_kept_chain_file_need_none_of_its_files():
    text = "mix: gone.wav\ninserts: [{plugin: Gone}]\nprefer: [crest highest, mono loss lowest]\n"
    crest, loss = preferences_in(text, "run.json")
    assert (crest.key, crest.highest, loss.key, loss.highest) == ("crest_db", True, "mono_loss_lu", False)
    assert preferences_in("mix: gone.wav\n", "run.json") == ()
    with pytest.raises(ChainFileError, match=r"run\.json"):
        preferences_in("prefer: [crest]\n", "run.json")
    with pytest.raises(ChainFileError):
        preferences_in("a: [", "run.json")
