"""Equally loud, measured by an outside meter on what the page played; and the true level, which comes up slowly."""

from __future__ import annotations

import numpy as np
import pytest
from listening import Ear, beginning, place_of
from pyloudnorm import Meter
from served_page import RATE_HZ


def _heard_lufs(ear: Ear, keys: str, turn_s: float) -> dict[str, float]:
    """Loudness of a loop that goes round and round, by pyloudnorm, for each sound by its key: one turn was recorded."""
    found = {}
    for key in keys:
        ear.press(key)
        ear.listen(0.05)
        turn = ear.listen(turn_s)[:, : round(turn_s * RATE_HZ)]
        found[key] = float(Meter(RATE_HZ).integrated_loudness(np.tile(turn, 15).T))
    return found


def test_matched_over_the_loop_all_sounds_are_equally_loud_there(ear: Ear):
    ear.press("Shift+Digit2", "Shift+ArrowRight", "]", "o", "Space")  # 3 s to 4 s
    assert "matched over loop" in ear.text("#transport")
    ear.listen(0.1)
    heard = _heard_lufs(ear, "158", 1.0)
    assert max(heard.values()) - min(heard.values()) < 0.1, heard


def test_the_gains_of_the_manifest_are_what_is_applied_and_what_is_shown(ear: Ear, site, samples):
    entries = site.manifest["mixes"][0]["sounds"]
    ear.press("l", "Space")
    for number in (1, 3, 5):
        ear.press(str(number + 1))
        ear.listen(0.1)
        heard = ear.listen(0.15)[:, :4096]
        entry = entries[number]
        sound = samples[entry["id"]]
        place = place_of(heard, sound)
        gain_db = 20 * np.log10(np.linalg.norm(heard) / np.linalg.norm(sound[:, place : place + heard.shape[1]]))
        assert gain_db == pytest.approx(entry["match_gain_db"], abs=1e-3)
        shown = f"{entry['match_gain_db']:+.1f} dB".replace("-", "−")
        assert shown in ear.page.locator(".tile[aria-pressed=true]").inner_text()
        assert shown in ear.text(".level")


def test_the_true_level_fades_up_and_says_by_how_much(ear: Ear, site, samples):
    louder_db = -site.manifest["mixes"][0]["sounds"][4]["match_gain_db"]
    ear.press("5")
    ear.begin()
    ear.press("Space")
    ear.wait_heard(0.3)
    ear.press("v")
    assert f"{louder_db:.1f} dB louder than matched" in ear.text("#said")
    assert f"{louder_db:.1f} dB louder" in ear.text(".level")
    ear.wait_more(0.3 + louder_db / 6)
    heard = ear.take()
    heard = heard[:, beginning(heard) :][:, 500:].astype(float)
    sound = samples["012"][:, 500 : 500 + heard.shape[1]].astype(float)
    told = np.abs(sound[0]) > 0.2
    gain_db = 20 * np.log10(heard[0][told] / sound[0][told])
    at_s = np.flatnonzero(told) / RATE_HZ
    assert gain_db[0] == pytest.approx(-louder_db, abs=0.01) and gain_db[-1] == pytest.approx(0, abs=1e-6)
    rising = (gain_db > -louder_db + 0.05) & (gain_db < -0.05)
    assert np.diff(gain_db).min() > -0.01, "it only rises"
    assert np.polyfit(at_s[rising], gain_db[rising], 1)[0] == pytest.approx(6, abs=0.2), "6 dB a second"


@pytest.mark.long
def test_what_starts_at_true_level_fades_up_too(ear: Ear, site, samples):
    ear.press("5", "v")
    heard = ear.play_and_listen(0.2)
    heard = heard[:, beginning(heard) :][:, 300:2000]
    first_db = 20 * np.log10(np.linalg.norm(heard) / np.linalg.norm(samples["012"][:, 300:2000]))
    assert first_db < site.manifest["mixes"][0]["sounds"][4]["match_gain_db"] + 0.5


def test_no_loop_no_match_over_it(ear: Ear):
    ear.press("o")
    assert "loop a stretch first" in ear.text("#said")
    ear.press("Shift+Digit1", "o", "l")
    assert "matched over loop" not in ear.text("#transport")
