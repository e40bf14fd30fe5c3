"""A step of then is found in the store by what it gave, when nobody knows its key any more."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from recall_sheets import LIMITER
from rendering import key_of

from sweeper.audio import AudioFormat
from sweeper.audio.marks import Marks
from sweeper.records import Gave
from sweeper.render.store import write_entry
from sweeper.render.store.by_sound import steps_that_gave
from sweeper.render.store.place import json_path, wav_path


def stored(folder, name: str) -> str:
    """An entry of noise; its marks."""
    noise = np.random.default_rng(len(name)).uniform(-1, 1, (2, 500)).astype(np.float32)
    marks = Marks(2, 44100)
    marks.advance(noise)
    record = replace(LIMITER, gave=(Gave(500, marks.every_frames, marks.text()),))
    with write_entry(folder, key_of(name), AudioFormat(2, 44100)) as entry:
        entry.write(noise)
        entry.commit((LIMITER, record), (), 0.1)
    return marks.text()


def test_those_that_are_there_are_found_and_no_others(tmp_path):
    one, _ = stored(tmp_path, "one"), stored(tmp_path, "another")
    assert steps_that_gave(tmp_path, [one, "0" * 16]) == {one: wav_path(tmp_path, key_of("one"))}


@pytest.mark.parametrize("harm", ["wav", "json", "samples"])
def test_what_is_gone_or_damaged_is_not_there(tmp_path, harm):
    one = stored(tmp_path, "one")
    path = json_path(tmp_path, key_of("one")) if harm == "json" else wav_path(tmp_path, key_of("one"))
    if harm == "samples":
        content = bytearray(path.read_bytes())
        content[-1] ^= 1
        path.write_bytes(content)
    else:
        path.unlink()
    assert steps_that_gave(tmp_path, [one]) == {}


def test_no_store_holds_nothing(tmp_path):
    assert steps_that_gave(tmp_path / "nowhere", ["0" * 16]) == {}
