"""Ten minutes at 96 kHz, eight sounds, in the memory that the page states; mixes of two rates; short references."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import psutil
import pytest
import soundfile as sf
from invented_audition import Invented, driven, manifest, music, write_served
from listening import Ear, beginning, place_of
from served_page import RATE_HZ, Serving


@pytest.fixture
def two_mixes(tmp_path):
    """One at 44.1 kHz, one at 48 kHz and mono."""
    told, files = None, {}
    for number, rate_hz in ((1, 44100), (2, 48000)):
        mix = music(number, rate_hz, 3.0)[: 3 - number]
        sounds = [
            Invented(f"mix-{number}", "mix", "untouched mix", mix),
            Invented(f"00{number}", "variant", f"00{number}", driven(mix, 6)),
        ]
        part = write_served(sounds, rate_hz, tmp_path / str(number))
        files |= {sound.id: tmp_path / str(number) / "audio" / sound.id for sound in sounds}
        part["mixes"][0] |= {"number": number, "name": f"song {number}.wav"}
        if told is None:
            told = part
        else:
            told["mixes"] += part["mixes"]
    with Serving(tmp_path, told, files) as served:
        yield served.address


def test_another_mix_plays_at_its_own_rate_and_begins_quiet_again_where_it_stood(two_mixes, opened):
    page = opened(two_mixes)
    page.locator("#mix").select_option("2")
    page.wait_for_function("() => document.querySelectorAll('.tile').length === 2 && ear.contexts.length === 2")
    ear = Ear(page)
    assert page.evaluate("() => [ear.contexts[0].state, ear.contexts[1].sampleRate]") == ["closed", 48000]
    assert ear.text(".monitor-gain") == "−20 dB"
    ear.full_gain()
    heard = ear.play_and_listen(0.6)
    heard = heard[:, -16384:]
    wanted = music(2, 48000, 3.0)[:1]
    place = place_of(heard, wanted)
    assert heard.shape[0] == 1 and np.array_equal(heard, wanted[:, place : place + heard.shape[1]])


@pytest.mark.long
def test_ten_minutes_at_96_khz_of_eight_sounds_take_no_more_memory_than_the_page_says(opened, tmp_path):
    rate_hz, minute = 96000, music(9, 96000, 60.0)
    short = [Invented("mix", "mix", "untouched mix", minute[:, : 6 * rate_hz])]
    short += [Invented(f"{n:03d}", "variant", f"{n:03d}", short[0].samples) for n in range(1, 8)]
    told = manifest(short, rate_hz, "served")
    path = tmp_path / "long.wav"
    with sf.SoundFile(path, "w", rate_hz, 2, format="RF64", subtype="FLOAT") as file:
        for k in range(10):
            file.write((minute * (1 - k / 20)).T)
    frames = 10 * minute.shape[1]
    told["mixes"][0]["frames"] = frames
    for entry in told["mixes"][0]["sounds"]:
        entry |= {"frames": frames, "audio": {"url": f"audio/{entry['id']}", "data_offset": 0, "format": "f32"}}
    with Serving(tmp_path, told, {sound.id: path for sound in short}) as served:
        page = opened(served.address, expected="REFUSED")  # it is still playing when the server ends
        ear = Ear(page)
        ear.full_gain()
        said_mb = int(re.search(r"(\d+) MB at most", page.locator("#memory").text_content())[1])
        assert said_mb <= 150
        before = _renderers_mb()
        box = page.locator(".stack").bounding_box()
        page.locator(".stack").click(position={"x": box["width"] * 0.85, "y": 20})  # 8:30
        ear.press("l", "Space")
        for key in "123456781234567812345678":
            ear.press(key)
            ear.listen(0.4)
        heard = ear.listen(0.3)[:, :16384].astype(float)
        place = place_of(heard, minute)
        there = minute[:, place : place + heard.shape[1]].astype(float)
        gain = float(np.vdot(heard, there) / np.vdot(there, there))
        assert min(abs(gain - level) for level in (0.6, 0.55)) < 1e-5, "the ninth minute, or the tenth"
        assert np.abs(heard - gain * there).max() < 1e-5
        ear.press("Home")
        ear.listen(0.5)
        after = _renderers_mb()
        print(f"the page says {said_mb} MB at most; renderers grew by {after - before:.0f} MB, to {after:.0f} MB")
        # what drives the browser keeps up to 200 MB of what went over the network; without it growth is about 110 MB
        assert after - before < 400, "all of it would be 3,700 MB"


def _renderers_mb() -> float:
    """Resident memory of the processes that hold pages of the test's own browser."""
    own = psutil.Process().children(recursive=True)
    return sum(p.memory_info().rss for p in own if "--type=renderer" in " ".join(p.cmdline())) / 2**20


@pytest.mark.long
def test_a_reference_of_another_length_is_silent_where_it_has_ended(opened, tmp_path):
    mix = Invented("mix", "mix", "untouched mix", music(1, RATE_HZ, 3.0))
    record = replace(mix, id="reference-1-1", kind="reference", name="short.wav", samples=music(2, RATE_HZ, 0.3))
    told = write_served([mix, record], RATE_HZ, tmp_path / "s")
    files = {sound.id: tmp_path / "s" / "audio" / sound.id for sound in (mix, record)}
    with Serving(tmp_path, told, files) as served:
        ear = Ear(opened(served.address))
        ear.full_gain()
        ear.press("2")
        ear.begin()
        ear.press("Space")
        ear.wait_heard(0.6)
        ear.press("1")
        ear.wait_more(0.3)
        heard = ear.take()
        heard = heard[:, beginning(heard) :]
        assert np.abs(heard[:, 14_000:22_000]).max() == 0
        assert np.abs(heard[:, -4000:]).max() > 0.01, "and the mix goes on where it would be"
        assert place_of(heard[:, -8192:], mix.samples) == heard.shape[1] - 8192
