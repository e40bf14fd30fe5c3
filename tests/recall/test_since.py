"""What is as it was is said, not only what has changed."""

from __future__ import annotations

from dataclasses import replace

from recall_sheets import LIMITER, SHEET

from sweeper.recall.since import since

VERSIONS = {"sweeper": "0.1.0", "sound": "1", "system": "Linux x86_64", "processor": "A", "numpy": "2.1.0"}
THEN = replace(SHEET, versions=VERSIONS)


def test_all_the_same():
    told = since(THEN, THEN)
    assert told.changed == ()
    assert told.same == (
        "the mix, every sample of it, at 44100 Hz", "plugin, code, state and settings of 'limiter' (ZaMaximX2 4.1.0)",
        "sweeper (0.1.0, sound version 1)", "the machine (Linux x86_64, A)", "what is beneath it (numpy 2.1.0)",
    )  # fmt: skip


def test_what_has_changed_is_not_among_what_is_the_same():
    other = replace(LIMITER, name="eq", plugin="EQ")
    then = replace(THEN, stages=(other, LIMITER))
    now = replace(then, stages=(other, replace(LIMITER, program_sha256="d" * 64)),
                  versions={**VERSIONS, "processor": "B", "numpy": "3"})  # fmt: skip
    told = since(then, now)
    assert told.same[1] == "plugin, code, state and settings of 'eq' (EQ 4.1.0)"
    assert not any("machine" in words or "beneath" in words for words in told.same)
    assert [d.what for d in told.changed] == ["'limiter' (ZaMaximX2): program (SHA-256)", "processor", "numpy"]
    assert told.as_data()["changed"][0]["then"] == "a" * 12


def test_another_rate_is_named():
    now = replace(THEN, source=replace(THEN.source, rate_hz=48000, audio_sha256="e" * 64))
    assert ("the mix's rate", "44100 Hz", "48000 Hz") in [(d.what, d.then, d.now) for d in since(THEN, now).changed]


def test_a_sheet_that_does_not_tell_the_processor_claims_nothing_of_it():
    then = replace(THEN, versions={k: v for k, v in VERSIONS.items() if k != "processor"})
    told = since(then, THEN)
    assert told.changed == ()
    assert not any("machine" in words for words in told.same)
