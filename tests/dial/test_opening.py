"""The window from its parent's side: Ctrl-C, and how a worker that ended is told."""

from __future__ import annotations

import os
import signal
import threading

import pytest

from sweeper.chain import load_chain
from sweeper.dial import opening
from sweeper.dial.choosing import chosen
from sweeper.dial.display import refuse_without_display
from sweeper.dial.orders import Loop
from sweeper.dial.signs import Signs
from sweeper.errors import PluginError, StateError
from sweeper.workers import Cause, Failed


@pytest.fixture
def picked(tmp_path):
    (tmp_path / "mix.wav").write_bytes(b"")
    text = "mix: mix.wav\ninserts: [{name: glue, plugin: Comp}]\n"
    return chosen(load_chain(tmp_path / "t.yaml", text), "glue", None, None)


def test_the_first_ctrl_c_asks_and_the_second_ends(tmp_path):
    signs, told = Signs(tmp_path), []
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt), opening._closing_on_interrupt(signs, told.append) as interrupted:
        assert not signs.close_asked
        signal.raise_signal(signal.SIGINT)
        assert signs.close_asked
        assert interrupted.is_set()
        assert len(told) == 1
        signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


def test_outside_the_main_thread_no_signal_is_touched(tmp_path):
    before = signal.getsignal(signal.SIGINT)
    found = []

    def enter() -> None:
        with opening._closing_on_interrupt(Signs(tmp_path), found.append) as interrupted:
            found.append(signal.getsignal(signal.SIGINT) is before)
            found.append(interrupted.is_set())

    thread = threading.Thread(target=enter)
    thread.start()
    thread.join()
    assert found == [True, False]


def test_a_crash_tells_what_is_kept_and_where(tmp_path, picked):
    crashed = Failed("window", Cause.CRASHED, "crashed with a segmentation fault (SIGSEGV)", "", "", ("ouch",), None)
    error = opening._window_failure(crashed, picked, Signs(tmp_path))
    assert error.what == ("the plugin of 'glue' crashed with a segmentation fault (SIGSEGV); it last said: ouch; "
                          "the chain file is as it was")  # fmt: skip
    Signs(tmp_path).keep(b"state")
    assert str(tmp_path / "kept.vstpreset") in opening._window_failure(crashed, picked, Signs(tmp_path)).what
    assert error.exit_code == 4


@pytest.mark.parametrize(("platform", "found"), [("linux", True), ("darwin", False)])
def test_a_death_by_x_tells_what_to_start(tmp_path, picked, monkeypatch, platform, found):
    monkeypatch.setattr("sys.platform", platform)
    said = ("X Error of failed request:  BadWindow (invalid Window parameter)", "  Major opcode: 20 (X_GetProperty)")
    ended = Failed("window", Cause.ENDED, "ended by itself with exit code 1", "", "", said, None)
    assert ("xsettingsd" in opening._window_failure(ended, picked, Signs(tmp_path)).remedy) is found


@pytest.mark.parametrize(("raised", "ours"), [(RuntimeError("boom"), False), (IndexError("boom"), True)])
def test_what_no_plugin_throws_is_a_fault_of_ours(tmp_path, picked, raised, ours):
    failed = Failed("window", Cause.ERROR, f"failed with {raised!r}", "", "", ("File x, line 3", "boom"), raised)
    error = opening._window_failure(failed, picked, Signs(tmp_path))
    assert (error.exit_code == 70) is ours
    assert error.what.startswith("a fault of ours: " if ours else "the plugin of 'glue' failed")
    assert "the chain file is as it was" in error.what
    assert ("File x, line 3\n    boom" in error.remedy) is ours


def test_a_workers_own_error_keeps_its_kind(tmp_path, picked):
    refused = Failed("window", Cause.ERROR, "", "", "", (), StateError("damaged", "take another"))
    error = opening._window_failure(refused, picked, Signs(tmp_path))
    assert type(error) is StateError
    assert error.what == "damaged; the chain file is as it was"


def test_a_state_that_cannot_be_kept_is_told_with_what_it_means(tmp_path, picked):
    loop = Loop(tmp_path, 0.0, 1.0, ())
    (line,) = opening._said({"unkept": "the state cannot be kept in X: disk full"}, loop, picked)
    assert line.startswith("the state cannot be kept in X: disk full; make room there")


@pytest.mark.parametrize(
    ("platform", "variables", "refused"),
    [("linux", {}, True), ("linux", {"DISPLAY": ""}, True), ("linux", {"DISPLAY": ":0"}, False),
     ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, False), ("darwin", {}, False), ("win32", {}, False)],
)  # fmt: skip
def test_only_linux_needs_a_variable(monkeypatch, platform, variables, refused):
    monkeypatch.setattr("sys.platform", platform)
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    for name, text in variables.items():
        monkeypatch.setenv(name, text)
    if refused:
        with pytest.raises(PluginError, match="DISPLAY is not set"):
            refuse_without_display()
    else:
        refuse_without_display()
    assert os.environ.get("DISPLAY", "") == variables.get("DISPLAY", "")
