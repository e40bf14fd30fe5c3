"""What has changed between two sheets, said once each, and nothing said of what has not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from recall_sheets import CEILING, LIMITER, RELEASE, SHEET, THRESHOLD

from sweeper.recall.differences import Difference, differences, moved


def limiter(**changes):
    return replace(SHEET, stages=(replace(LIMITER, **changes),))


def test_a_sheet_and_itself_differ_in_nothing():
    now = replace(SHEET, id="other", created="later", passes=1, plugin_s=9.0, notes=("another",))
    assert differences(SHEET, now) == ()


@pytest.mark.parametrize(
    ("now", "difference"),
    [(limiter(version="4.2.0"), ("'limiter' (ZaMaximX2): version", "4.1.0", "4.2.0")),
     (limiter(path="/elsewhere/ZaMaximX2.vst3"), ("'limiter' (ZaMaximX2): file", LIMITER.path,
                                                  "/elsewhere/ZaMaximX2.vst3")),
     (limiter(program_sha256="f" * 64), ("'limiter' (ZaMaximX2): program (SHA-256)", "a" * 12, "f" * 12)),
     (limiter(state_sha256="e" * 64), ("'limiter' (ZaMaximX2): state file (SHA-256)", "none", "e" * 12)),
     (limiter(latency_frames=960), ("'limiter' (ZaMaximX2): delay in frames", "480", "960")),
     (limiter(settings=(replace(THRESHOLD, raw=0.5, text="-15"), CEILING)),
      ("'limiter' (ZaMaximX2): Threshold", "-7.096188", "-15")),
     (limiter(settings=(replace(THRESHOLD, raw=0.7634604), CEILING)),
      ("'limiter' (ZaMaximX2): Threshold", "0.7634603977203369", "0.7634604")),
     (limiter(settings=(CEILING,)), ("'limiter' (ZaMaximX2): Threshold", "-7.096188", "not there")),
     (replace(SHEET, source=replace(SHEET.source, file="/moved/mix.flac")),
      ("the mix's file (the music is the same)", "/music/mix.wav", "/moved/mix.flac")),
     (replace(SHEET, versions={"sweeper": "0.1.0", "numpy": "2.2.0"}), ("numpy", "2.1.0", "2.2.0")),
     (replace(SHEET, block_frames=512), ("frames in a block", "1024", "512"))],
)  # fmt: skip
def test_each_change_is_said_once(now, difference):
    assert differences(SHEET, now) == (Difference(*difference),)


def test_what_an_older_sheet_does_not_tell_is_no_difference():
    now = replace(SHEET, versions={**SHEET.versions, "system": "Linux x86_64"})
    assert differences(SHEET, now) == ()


def test_a_control_that_nobody_set_is_no_difference_but_it_has_moved():
    now = limiter(standing=(replace(RELEASE, raw=0.5),))
    assert differences(SHEET, now) == ()
    assert moved(LIMITER, now.stages[0]) == (RELEASE,)
    assert moved(LIMITER, LIMITER) == ()
    assert moved(LIMITER, replace(LIMITER, standing=())) == (RELEASE,), "gone"


def test_a_setting_put_back_among_the_settings_is_found_there():
    now = limiter(settings=(CEILING, RELEASE, THRESHOLD), standing=())
    assert differences(SHEET, now) == ()


def test_a_state_that_was_taken_from_the_runs_copy_is_said():
    then = limiter(state_file="/mine/glue.vstpreset", state_sha256="e" * 64)
    now = limiter(state_file="/run/states/eee.vstpreset", state_sha256="e" * 64)
    assert differences(then, now) == (Difference("'limiter' (ZaMaximX2): state file (the same in content)",
                                                 "/mine/glue.vstpreset", "/run/states/eee.vstpreset"),)  # fmt: skip
