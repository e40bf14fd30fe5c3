"""The numbers of the documents, written down once more.

EBU rows: EBU Tech 3343 (2023), sections 2, 3, 9.1, 9.2 and 11.2.3. ATSC A/85: 2013 and 2026-07, section 6, as two
public sources quote it. AES TD1008: AESTD1008.1.21-9, table 1, as three public sources quote it, its tolerances as one
or two do. Which sources these were is not written down.
"""

from __future__ import annotations

import re

import pytest

from sweeper.targets import BY_ID, DELIVERY, LEVELS, TARGETS, Kind, Status

#: id -> loudness LUFS, below LU, above LU, true peak dBTP, short-term max LUFS.
ROWS = {
    "ebu-r128": (-23.0, 0.2, 0.2, -1.0, None),
    "ebu-r128-live": (-23.0, 1.0, 1.0, -1.0, None),
    "ebu-r128-short-form": (-23.0, 0.2, 0.2, -1.0, -18.0),
    "ebu-r128-streaming": (-23.0, 0.2, 0.2, -1.0, None),
    "atsc-a85": (-24.0, 2.0, 2.0, -2.0, None),
    "aes-td1008-music-track": (-16.0, 0.2, 0.2, -1.0, None),
    "aes-td1008-music-album": (-14.0, None, None, -1.0, None),
    "aes-td1008-speech": (-18.0, None, 1.0, -1.0, None),
    "aes-td1008-assorted": (-18.0, None, 2.0, -1.0, None),
    "aes-td1008-interstitial": (-18.0, None, None, -1.0, None),
}


@pytest.mark.parametrize("id", ROWS)
def test_the_numbers_are_those_of_the_document(id):
    target = BY_ID[id]
    assert ROWS[id] == (target.loudness_lufs, target.below_lu, target.above_lu, target.true_peak_max_dbtp,
                        target.short_term_max_lufs)  # fmt: skip


def test_there_are_no_others_and_each_goes_by_one_name():
    assert [target.id for target in TARGETS] == list(ROWS)
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", id) for id in BY_ID)


def test_a_playback_document_is_nothing_to_deliver_to():
    assert {id for id in BY_ID if BY_ID[id].kind is Kind.PLAYBACK} == {id for id in ROWS if id.startswith("aes-td1008")}
    assert tuple(id for id in ROWS if not id.startswith("aes")) == DELIVERY


def test_only_what_was_read_says_so():
    told = {id for id, target in BY_ID.items() if target.status is Status.TOLD}
    assert told == {id for id in ROWS if id.startswith("ebu")}
    assert all("Tech 3343 (2023)" in BY_ID[id].source for id in told)
    assert {target.status for id, target in BY_ID.items() if id not in told} == {Status.QUOTED}
    assert all("itself not read" in status.value for status in Status), "none of the documents was"


def test_a_tolerance_that_fewer_quote_than_the_level_says_so():
    few = {id for id, target in BY_ID.items() if any("one or two of the quotations" in note for note in target.notes)}
    assert few == {"aes-td1008-music-track", "aes-td1008-speech", "aes-td1008-assorted"}


def test_every_target_says_which_document_edition_and_date():
    assert all(t.document and t.edition and re.match(r"20\d\d", t.date) and t.applies_to and t.source for t in TARGETS)


def test_the_playback_levels_are_those_of_the_documents_the_loudest_first():
    assert [(level.loudness_lufs, level.target.document, level.ceiling_dbtp) for level in LEVELS] == [
        (-14, "AES TD1008", -1), (-16, "AES TD1008", -1), (-16, "EBU R 128 s2", -1), (-18, "AES TD1008", -1),
        (-20, "EBU R 128 s2", -1), (-23, "EBU R 128", -1), (-24, "ATSC A/85", -2),
    ]  # fmt: skip
    assert [level.target.id for level in LEVELS if level.album] == ["aes-td1008-music-album"]
