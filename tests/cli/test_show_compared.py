"""Two compared files in words and as data."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from sweeper.audio import AudioFormat, SoundFile
from sweeper.audio.null import Null
from sweeper.cli.compared_data import data_of
from sweeper.cli.show_compared import image_words, inside_words, spectrum_lines, steady_words, verdict
from sweeper.meter.alignment import Alignment, Lag, Place
from sweeper.meter.image import Shift
from sweeper.meter.quiet_copy import LOST, Explained
from sweeper.quantities import OF_FILES, Measurements
from sweeper.recall.repeating import Unsteady
from sweeper.render.comparison import Compared, Deep

FRAMES = 48000 * 60
MEASURED = Measurements({quantity.key: None for quantity in OF_FILES} | {"rms_dbfs": -20.0})
FOUND = Compared(
    SoundFile(Path("a.wav"), AudioFormat(2, 48000), FRAMES, "WAV", "PCM_24"),
    SoundFile(Path("b.wav"), AudioFormat(2, 48000), FRAMES, "WAV", "PCM_24"),
    Null((FRAMES, FRAMES), -12.0, -30.0, 48000, 0, 1.0), Alignment(0.0, (False, False), 0.99, None, False, ()),
    0, FRAMES, 1.5, "loudness_lufs", (MEASURED, replace(MEASURED, values=MEASURED.values | {"rms_dbfs": -18.5})),
    (0.04, -0.04, 1.26) + (None,) * 28, Shift(-0.5, 30.0, 0.1, -0.4, None),
    Null((FRAMES, FRAMES), -40.2, -62.0, 96000, 1, 2.0),
)  # fmt: skip


def told(**changes):
    return list(verdict(replace(FOUND, **changes)))


def test_the_verdict_comes_first_then_level_and_time():
    assert told() == [
        "different: aligned and at equal level, a null test leaves a peak of -40.2 dBFS at 0:02.0 on the right, "
        "RMS -62.0 dBFS, 42.0 dB below A",
        "level: B is 1.50 dB louder (by loudness)",
        "time: B begins with A, to the sample",
        "as they are, a null test leaves a peak of -12.0 dBFS at 0:01.0 on the left, RMS -30.0 dBFS",
    ]


def test_identical_needs_no_more_words():
    same = Null((FRAMES, FRAMES), None, None, None, None, None)
    assert told(as_is=same, null=same) == ["identical, sample for sample"]


def test_the_same_but_for_level_goes_by_a_step_of_24_bits():
    least = replace(FOUND.null, peak_dbfs=-139.0)
    assert told(null=least)[0].startswith("the same but for level and time: ")
    assert told(null=replace(least, peak_dbfs=-133.0), louder_db=-6.0)[0].startswith("the same")
    assert told(null=replace(least, peak_dbfs=-133.0))[0].startswith("different")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"offset_frames": 480.0}, "time: B is 480 samples (10.000 ms) later"),
        ({"offset_frames": -1.0}, "time: B is 1 sample (0.021 ms) earlier"),
        ({"offset_frames": 0.37}, "time: B is 0.370 samples (0.008 ms) later"),
        ({"inverted": (True, True)}, "polarity: all of it is turned over in B, turned back for the null test alone"),
        ({"exchanged": True}, "channels: left of A is right of B; they are put back for the null test alone"),
        ({"inverted": (False, True)},
         "polarity: the right channel is turned over in B, turned back for the null test alone"),
        ({"drift_ppm": -20.0},
         "clock: B is 20.0 ppm shorter, 1.20 ms by the end; it is aligned by the middle, and what the null test leaves "
         "may be mostly that"),
    ],
)  # fmt: skip
def test_what_is_told_of_time(changes, words):
    assert words in told(alignment=replace(FOUND.alignment, **changes))


def test_an_edit_is_told_with_its_places():
    lag = Lag(0, 0.0, 0.9, 0.1, 0.1, (False,))
    places = (Place(1.0, 0.0, lag), Place(50.0, 480.0, lag))
    line = told(alignment=replace(FOUND.alignment, wanders=True, places=places))[3]
    assert line == ("the offset changes on the way, as by an edit (samples: +0 at 0:01.0, +480 at 0:50.0); "
                    "aligned is the commonest")  # fmt: skip


@pytest.mark.parametrize(
    ("louder_db", "by", "words"),
    [
        (-0.31, "null", "level: B is 0.31 dB quieter (by what nulls best)"),
        (0.004, "loudness_lufs", "level: the same (by loudness)"),
        (0.0, "", "level: one of them is silent, so that the levels are not matched"),
    ],
)
def test_what_is_told_of_level(louder_db, by, words):
    assert told(louder_db=louder_db, louder_by=by)[1] == words


def test_unequal_lengths_and_a_stretch_are_told():
    shorter = replace(FOUND.other, frames=FRAMES - 48000)
    assert ("length: A 1:00.0, B 0:59.0, B is 48000 samples (1.000 s) shorter; compared is what both have: "
            "0:02.0-0:59.0 of A") in told(other=shorter, first_frame=96000, frames=FRAMES - 3 * 48000)  # fmt: skip
    assert not any(line.startswith("length") for line in told(frames=FRAMES - 480))


def test_without_likeness_there_is_no_null_test():
    lines = told(alignment=None, null=None)
    assert lines == [
        "different: B is not like A anywhere within 30 s, so that nothing can be aligned or nulled",
        "level: B is 1.50 dB louder (by loudness)",
    ]


def test_what_a_stage_repeats_to_explains_no_more_than_it_can():
    loud, soft = Unsteady("tape", "Tape", -40.0), Unsteady("verb", "Verb", -40.5)
    assert list(steady_words(FOUND, [loud, soft])) == [
        "that is no more than what 'tape' (Tape) itself repeats to: two renders of it differ by -40.0 dBFS"]
    assert [one["name"] for one in data_of(FOUND, (None, None), [loud, soft])["unsteady"]] == ["tape"]


def test_the_spectrum_has_every_band_under_its_frequency():
    lines = list(spectrum_lines(FOUND.thirds_db))
    assert lines[1] == "  Hz    20    25  31.5    40    50    63    80   100   125   160   200"
    assert lines[2] == "  dB   0.0   0.0  +1.3" + "     -" * 8
    assert lines[5].endswith("16k   20k")
    assert len(lines) == 7


@pytest.mark.parametrize(
    ("shift", "words"),
    [
        (FOUND.shift, ["image: B leans 0.50 dB more to the left at most, in the 3 s from 0:32.0 on "
                       "(balance +0.10 to -0.40 dB)"]),
        (Shift(0.01, 1.0, 0.0, 0.01, None), ["image: moves nowhere by more than 0.05 dB (balance over 3 s)"]),
        (Shift(None, None, None, None, 4.0),
         ["image: a channel is silent in one of them and not in the other, at 0:06.0"]),
        (None, []),
    ],
)  # fmt: skip
def test_where_the_image_leans(shift, words):
    assert list(image_words(replace(FOUND, shift=shift, first_frame=96000))) == words


def test_the_data_hold_everything():
    data = json.loads(json.dumps(data_of(FOUND, (None, None), ()), allow_nan=False))
    assert (data["identical"], data["same_when_aligned"], data["louder_db"]) == (False, False, 1.5)
    assert data["differences"]["rms_dbfs"] == 1.5 and data["differences"]["overs"] is None
    assert data["null"] == {"peak_dbfs": -40.2, "rms_dbfs": -62.0, "at_s": 2.0, "frame": 96000, "channel": 1,
                            "rms_below_a_db": 42.0}  # fmt: skip
    assert data["thirds_db"][2] == {"hz": 31.5, "difference_db": 1.26}
    assert data["alignment"]["offset_ms"] == 0.0
    assert data["image"]["at_s"] == 30.0


def test_what_made_one_of_the_other_is_told_with_its_floor():
    explained = Explained(-25.26, -44.0, 9.51, 4.4, 13.57, 0.816, ("against its least",))
    deep = Deep(48000, 48000 * 30, explained)
    assert list(inside_words(deep, 48000)) == [
        "inside, 0:01.0-0:31.0 of A: residue -25.3 dB of B, what no filter and no moving gain explains (floor -44.0)",
        "attenuation: 5 % of the loudest 30 s above 9.5 dB, half of it above 4.4, 0.1 % above 13.6; more than 0.5 dB "
        "for 82 % of it",
        "  against its least",
    ]
    lost = replace(explained, residue_db=-45.0, attenuation_db=-0.001, remarks=(LOST,))
    lines = list(inside_words(replace(deep, explained=lost), 48000))
    assert "residue less than -44.0 dB of B" in lines[0] and "above 0.0 dB" in lines[1]
    assert "inside" not in data_of(FOUND, (None, None), ())
    inside = data_of(replace(FOUND, deep=deep), (None, None), ())["inside"]
    assert (inside["from_s"], inside["to_s"], inside["residue_db"], inside["residue_floor_db"]) == (1, 31, -25.26, -44)
    assert inside["attenuation_share_pct"] == pytest.approx(81.6)
    nothing = Deep(0, 0, Explained(None, -150.0, None, None, None, None, ("nothing goes in",)))
    assert list(inside_words(nothing, 48000)) == ["inside: nothing goes in"]
    assert data_of(replace(FOUND, deep=nothing), (None, None), ())["inside"]["residue_floor_db"] is None
