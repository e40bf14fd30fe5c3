"""What the marks say, read back from the page, against the signal they were drawn from."""

from __future__ import annotations

import re

import numpy as np
import pytest
from drawn import SVG, hour_long, parsed, part, points, subject, words
from signals import noise, sine, steps

from sweeper.pictures import picture
from sweeper.pictures.over_time import loudness_range_lufs

LEFT, RIGHT, BOTTOM = 64.0, 1136.0, 420.0


def told(tree, name):
    """What the pointer is told in a group."""
    return [title.text for title in part(tree, name).iter(f"{SVG}title")]


def test_loudness_over_time_is_where_the_axes_say():
    # 5 s at -20 dBFS, 5 s at -30: the loudness of each tone is its level (EBU Tech 3341)
    shown = subject(steps([(5.0, -20.0), (5.0, -30.0)]), target_lufs=-14.0)
    chart = part(parsed(picture(shown)), "loudness")
    momentary, short_term = (points(one) for one in chart.iter(f"{SVG}polyline"))
    lowest, highest = loudness_range_lufs(shown)

    def lufs(y):
        return lowest + (BOTTOM - y) / (BOTTOM - 184.0) * (highest - lowest)

    def at_s(x):
        return (x - LEFT) / (RIGHT - LEFT) * 10.0

    for curve, window_s in ((momentary, 0.4), (short_term, 3.0)):
        assert at_s(curve[0][0]) == pytest.approx(window_s, abs=0.02)
        assert at_s(curve[-1][0]) == pytest.approx(10.0, abs=0.02)
        before = [lufs(y) for x, y in curve if window_s + 0.1 < at_s(x) <= 5.0]
        after = [lufs(y) for x, y in curve if at_s(x) > 5.0 + window_s]
        assert before == pytest.approx([-20.0] * len(before), abs=0.1)
        assert after == pytest.approx([-30.0] * len(after), abs=0.1)
    across = [one for one in chart.iter(f"{SVG}line") if one.get("x1") == "64" and one.get("stroke-dasharray")]
    dashed = [float(one.get("y1")) for one in across]
    assert [lufs(y) for y in dashed] == pytest.approx([shown.measurements["loudness_lufs"], -14.0], abs=0.05)
    assert f"integrated {shown.measurements['loudness_lufs']:.1f} LUFS".replace("-", "−") in words(chart)
    assert "target −14.0 LUFS" in words(chart)


def test_a_curve_keeps_its_peaks_where_a_column_holds_many_windows():
    powers = np.full(35997, 1e-4)
    powers[20000] = 1e-1
    shown = hour_long(subject(noise(0.5, 8000, channels=1), 8000), powers)
    highest_px = min(y for _, y in points(next(part(parsed(picture(shown)), "loudness").iter(f"{SVG}polyline"))))
    lowest, highest = loudness_range_lufs(shown)
    loudest = lowest + (BOTTOM - highest_px) / (BOTTOM - 184.0) * (highest - lowest)
    assert loudest == pytest.approx(-10.691, abs=0.1)


def test_the_target_is_shown_however_far_away_it_is():
    for target in (-70.0, 10.0):
        lowest, highest = loudness_range_lufs(subject(noise(1.0), target_lufs=target))
        assert lowest <= target <= highest


@pytest.mark.parametrize(("target", "words_"), [(-20.7, "0.7 LU over target"), (-19.5, "0.5 LU under target"),
                                                (-20.02, "on target")])  # fmt: skip
def test_the_distance_to_the_target_is_told(target, words_):
    shown = subject(sine(-20.0, 4.0, hz=997.0), target_lufs=target)
    assert words_ in " ".join(words(part(parsed(picture(shown)), "headline")))


def test_the_spectrum_tells_the_level_of_a_tone():
    # RMS of a -6.02 dBFS sine: -9.03 dBFS
    assert "1000 Hz: −9.0 dBFS" in told(parsed(picture(subject(sine(-6.02, 4.0)))), "spectrum")


def test_the_distribution_tells_the_shares():
    shares = [float(text.split(": ")[1].removesuffix(" %")) for text in told(parsed(picture(subject(noise(2.0)))),
                                                                             "distribution")]  # fmt: skip
    assert sum(shares) == pytest.approx(100.0, abs=0.05 * len(shares) + 0.01)
    # of the 37 blocks of 400 ms in 4 s, 17 lie in each tone as a whole, and 3 in both, nearer to the louder
    half = told(parsed(picture(subject(steps([(2.0, -20.5), (2.0, -30.5)])))), "distribution")
    assert {"−21 to −20 LUFS: 45.9 %", "−31 to −30 LUFS: 45.9 %"} <= set(half)


def test_a_fade_and_silence_leave_the_distribution_its_width():
    fade = [(0.5, level) for level in np.arange(-25.0, -69.0, -4.0)]
    shown = part(parsed(picture(subject(steps([(240.0, -20.5), *fade, (9.0, -90.0)], rate_hz=8000), 8000))),
                 "distribution")  # fmt: skip
    text = " ".join(words(shown))
    assert "% of the windows above −70 LUFS" in text
    assert min(int(one.replace("−", "-")) for one in words(shown) if re.fullmatch("−[0-9]+", one)) >= -36
    (lower,) = re.findall(r"a bar 1 LU; ([0-9.]+) % are lower", text)
    bars = [float(one.split(": ")[1].removesuffix(" %")) for one in told(shown, "distribution")]
    assert 0.5 < float(lower) < 3.0
    assert sum(bars) + float(lower) == pytest.approx(100.0, abs=0.05 * len(bars) + 0.06)


def test_overs_are_marked_at_their_time_and_counted():
    music = np.zeros((2, 48000))
    music[1, 12000:12003] = 1.0
    music[0, 36000] = -1.0
    wave = part(parsed(picture(subject(music))), "waveform")
    assert "4 overs" in words(wave)
    marks = list(wave.iter(f"{SVG}path"))[-1].get("d")
    tips = [float(x) for x in re.findall(r"M([\d.]+) 458", marks)]
    assert tips == pytest.approx([LEFT + (RIGHT - LEFT) * share for share in (0.25, 0.75)], abs=1.1)
    assert "overs" not in " ".join(words(part(parsed(picture(subject(music * 0.5))), "waveform")))


def test_a_peak_over_full_scale_in_a_float_file_has_its_level_beside_it():
    shown = words(part(parsed(picture(subject(sine(20.0, 0.5)))), "waveform"))
    assert "+20.0" in shown


def test_sections_are_shaded_from_beginning_to_end_and_named_with_their_loudness():
    ranges = {"verse": ((0, 96000),), "chorus": ((96000, 144000), (168000, 192000))}
    shown = subject(steps([(2.0, -30.0), (2.0, -20.0)]), sections=ranges)
    group = part(parsed(picture(shown)), "sections")
    boxes = [(float(box.get("x")), float(box.get("x")) + float(box.get("width"))) for box in group.iter(f"{SVG}rect")]
    edges = [(0.0, 2.0), (2.0, 3.0), (3.5, 4.0)]
    wanted = [tuple(LEFT + (RIGHT - LEFT) * second / 4.0 for second in edge) for edge in edges]
    assert boxes == [pytest.approx(edge, abs=0.2) for edge in wanted * 2], "over loudness, and over the waveform"
    assert words(group) == ["verse −30.0 LUFS", "chorus −20.0 LUFS", "chorus −20.0 LUFS"]
    assert "chorus −20.0 LUFS, 0:03.5-0:04.0" in told(parsed(picture(shown)), "sections")


def test_names_that_have_no_room_are_counted_and_never_lie_over_each_other():
    ranges = {f"a part with a name {n}": ((n * 480, n * 480 + 480),) for n in range(100)}
    tree = parsed(picture(subject(noise(1.0), sections=ranges)))
    placed = words(part(tree, "sections"))
    assert any(text.startswith(f"{100 - len(placed)} more section names") for text in words(tree))
    assert 9 <= len(placed) < 40
