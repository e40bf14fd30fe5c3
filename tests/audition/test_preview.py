from __future__ import annotations

import heard_runs
import pytest
import soundfile
from whole_runs import outside_lufs

from sweeper.audition.gathered import gathered
from sweeper.audition.heard import Kind
from sweeper.audition.manifest import manifest
from sweeper.audition.preview import playback_data, service_words
from sweeper.audition.serving import served_audio
from sweeper.quantities import Measurements


@pytest.fixture(scope="module")
def previewed(run, tmp_path_factory, pool):
    return gathered(heard_runs.copied(run, tmp_path_factory.mktemp("previewed")), ("003",), (), pool, ("003",))


def test_a_pick_is_heard_through_every_codec_as_loud_as_all_others(previewed, tmp_path):
    found = [one for one in previewed.sounds if one.found.kind is Kind.PREVIEW]
    assert [one.found.id for one in found] == ["003-mp3", "003-vorbis", "003-opus"]
    assert {one.found.of for one in found} == {"003"}
    assert previewed.warnings == ()
    levels = []
    for one in (previewed.sounds[0], *found):
        samples, rate_hz = soundfile.read(one.file, always_2d=True)
        soundfile.write(tmp_path / "matched.wav", samples * 10 ** (one.gain_db / 20), rate_hz, subtype="FLOAT")
        levels.append(outside_lufs(tmp_path / "matched.wav"))
        assert one.look.frames == previewed.sounds[0].look.frames
        assert one.look.measured["true_peak_dbtp"] + one.gain_db <= 0.01
    assert max(levels) - min(levels) < 0.02


def test_the_page_is_told_codec_rate_and_overshoot(previewed):
    sounds = {one["id"]: one for one in manifest(previewed, "served", served_audio)["mixes"][0]["sounds"]}
    opus = sounds["003-opus"]["preview"]
    assert (opus["codec"], opus["coded_rate_hz"]) == ("opus", 48000)
    assert "coded at 48000 Hz" in sounds["003-opus"]["note"]
    rise = sounds["003-opus"]["true_peak_dbtp"] - sounds["003"]["true_peak_dbtp"]
    assert opus["rise_db"] == pytest.approx(rise, abs=0.002)
    assert opus["overshoot_dbtp"] == pytest.approx(max(0.0, sounds["003-opus"]["true_peak_dbtp"]), abs=0.002)


@pytest.mark.long
def test_what_was_coded_is_kept_and_a_half_made_copy_is_made_again(previewed, pool):
    run = previewed.heard.run.path
    file = next(one.file for one in previewed.sounds if one.found.id == "003-mp3")
    before = file.stat().st_mtime_ns
    gathered(run, ("003",), (), pool, ("003",))
    assert file.stat().st_mtime_ns == before
    file.with_suffix(".json").unlink()
    file.write_bytes(b"RIFF")
    gathered(run, ("003",), (), pool, ("003",))
    assert soundfile.info(file).frames == previewed.sounds[0].look.frames


def test_playback_gains_are_those_of_the_documents():
    # AES TD1008 (2021): music tracks at -16 LUFS, from memory; a master at -9 LUFS is turned down by 7 dB
    music = playback_data(Measurements({"loudness_lufs": -9.0, "true_peak_dbtp": -0.5}))[0]
    assert (music["level_lufs"], music["gain_db"], music["true_peak_dbtp"]) == (-16.0, -7.0, -7.5)
    # a quiet one is turned up no further than its peak may go: -1 dBTP
    quiet = playback_data(Measurements({"loudness_lufs": -24.0, "true_peak_dbtp": -4.0}))[0]
    assert (quiet["gain_db"], quiet["true_peak_dbtp"], quiet["held_back_db"]) == (3.0, -1.0, 5.0)
    nothing = Measurements({"loudness_lufs": None, "true_peak_dbtp": None})
    assert (playback_data(nothing), service_words(nothing)) == ([], None)
    loud = Measurements({"loudness_lufs": -9.0, "true_peak_dbtp": -0.5})
    assert service_words(loud) == "at -16 LUFS (AES TD1008) turned by -7.0 dB"
