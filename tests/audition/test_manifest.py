"""The manifest against the contract that the page reads it by."""

from __future__ import annotations

import json

import numpy as np
import pytest
import soundfile

from sweeper.audition.manifest import manifest
from sweeper.audition.serving import offered, served_audio
from sweeper.quantities import BY_KEY

WHOLE = {"schema", "title", "run", "made", "mode", "notes_file_name", "caution", "matched_over", "warnings", "mixes",
         "scatter", "all", "quantities"}  # fmt: skip
SOUND = {"id", "kind", "name", "of", "settings", "rank", "front", "why", "kept", "note", "match_gain_db",
         "true_peak_dbtp", "loudness_lufs", "channels", "frames", "offset_frames", "audio", "measurements", "reasons",
         "targets", "limits", "short_term", "power_100ms", "waveform", "overs_s", "attenuation", "thirds_difference_db",
         "preview", "playback"}  # fmt: skip


@pytest.fixture(scope="module")
def data(ready):
    return manifest(ready, "served", served_audio)


def test_it_has_what_the_page_expects_and_is_plain_json(data):
    assert set(data) == WHOLE
    assert all(set(sound) == SOUND for sound in data["mixes"][0]["sounds"])
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    assert (data["title"], data["notes_file_name"]) == ("Tin Boats", "tin-boats.picks.json")
    assert data["mixes"][0]["sections"][1] == {"name": "chorus", "from_s": 2.0, "to_s": 4.0}
    assert data["mixes"][0]["frames"] == 4 * 44100, "of the best variant"
    assert {one["key"] for one in data["quantities"]} >= set(BY_KEY) & set(data["all"][0]["measurements"])
    assert data["scatter"] == {"x": "crest_loud_db", "y": "loudness_range_lu"}
    assert [one["id"] for one in data["all"]] == ["001", "002", "003"]


def test_targets_and_limits_are_told_in_words(data):
    sound = data["mixes"][0]["sounds"][0]
    assert sound["targets"] == [{"text": "loudness -10 LUFS", "met": True, "off": "+0.00 LU", "ending": "", "why": ""}]
    assert sound["limits"][0] == {"text": "limiter.attenuation <= 3 dB", "kept": True, "margin": "+0.50 dB"}


def test_the_difference_in_thirds_is_at_equal_loudness(data, ready):
    sounds = {one["id"]: one for one in data["mixes"][0]["sounds"]}
    # 001 is the mix twice as loud: no difference at all; 002 loses what a mean of two neighbouring samples takes
    assert np.allclose(sounds["001"]["thirds_difference_db"], 0.0, atol=0.02)
    duller = sounds["002"]["thirds_difference_db"]
    for hz, at in ((1000, 17), (10000, 27)):
        theory = 20 * np.log10(np.cos(np.pi * hz / 44100)) - 20 * np.log10(np.cos(np.pi * 200 / 44100))
        assert duller[at] - duller[10] == pytest.approx(theory, abs=0.15)
    assert sounds["mix-1"]["thirds_difference_db"] is None
    assert sounds["reference-1-1"]["thirds_difference_db"] is None


def test_attenuation_begins_where_the_passage_was_first_listened_to(data):
    # from 1.0 s to 2.0 s, of which the first tenth is left alone
    assert data["mixes"][0]["sounds"][0]["attenuation"] == {"from_s": 1.1, "step_s": 0.1, "db": [0.5, 1.5, None]}
    assert data["mixes"][0]["sounds"][3]["attenuation"] is None


def test_what_is_offered_is_what_the_page_is_told_of(ready, page):
    offer = offered(ready, page)
    assert set(offer.audio) == {one.found.id for one in ready.sounds}
    for sound in manifest(ready, "served", served_audio)["mixes"][0]["sounds"]:
        assert sound["audio"]["url"] == f"audio/{sound['id']}"
        raw = np.fromfile(offer.audio[sound["id"]], "<f4", offset=sound["audio"]["data_offset"])
        assert raw.size == sound["frames"] * sound["channels"]
        assert np.array_equal(raw, soundfile.read(offer.audio[sound["id"]], dtype="float32")[0].reshape(-1))
