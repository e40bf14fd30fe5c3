"""`sweeper dial` as an engineer meets it: a real window on a virtual screen, a knob dragged with the mouse.

The screen: Debian's xvfb and openbox, with no XSETTINGS manager, as on a bare machine; the mouse: xdotool. The plugin:
ZaMaximX2 of Debian's zam-plugins; its Release knob is the leftmost, its window 561 x 107.
"""

from __future__ import annotations

import json
import math
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import psutil
import pytest
from plugin_fixtures import done, packaged, stage
from whole_runs import chain_file, mix, sweeper

CHAIN = """\
title: Lantern Bay   # first pass
mix: mix.wav
inserts:
  - {name: low cut, plugin: "builtin:HighpassFilter"}
  - {name: colour, any of: [{plugin: ZaMultiCompX2, name: comp}, {plugin: "builtin:Gain"}]}
output:
  - name: limiter
    plugin: ZaMaximX2   # the good one
    settings: {Release: "25 ms", Output Ceiling: -1}   # by ear
"""
KNOB = (48, 65)
PATIENCE_S = 60.0
KEEP_EVERY_S = 5.0


@pytest.fixture(scope="module")
def screen() -> Iterator[str]:
    """A display with a window manager on it."""
    reader, writer = os.pipe()
    server = subprocess.Popen(["Xvfb", "-displayfd", str(writer), "-screen", "0", "1024x768x24", "-nolisten", "tcp"],
                              pass_fds=[writer], stderr=subprocess.DEVNULL)  # fmt: skip
    os.close(writer)
    with os.fdopen(reader) as told:
        display = f":{told.readline().strip()}"
    assert display != ":", "Xvfb did not start"
    env = {**os.environ, "DISPLAY": display}
    ask = ["xdotool", "getdisplaygeometry"]  # a display may be named before it takes anybody in
    until(lambda: not subprocess.run(ask, env=env, capture_output=True, check=False).returncode, "the display")
    manager = subprocess.Popen(["openbox"], env=env, stderr=subprocess.DEVNULL)
    managed = ["xdotool", "get_num_desktops"]  # told by a window manager alone
    until(lambda: not subprocess.run(managed, env=env, capture_output=True, check=False).returncode, "openbox")
    yield display
    for process in (manager, server):
        process.terminate()
        process.wait(10)


def until(met: Callable[[], object], what: str, again: Callable[[], object] = lambda: None) -> object:
    """What `met` returns once that is true; `again` is done before each look."""
    end_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < end_s:
        again()
        if found := met():
            return found
        time.sleep(0.2)
    raise AssertionError(f"waited {PATIENCE_S:g} s for {what}")


@dataclass
class Dialling:
    """The command at work, and a hand on its window."""

    folder: Path
    display: str
    arguments: tuple[str, ...] = ()
    process: subprocess.Popen = field(init=False)

    def __post_init__(self) -> None:
        self.kept = self.folder / "tmp"
        self.kept.mkdir(exist_ok=True)
        self.said = self.folder / "said.txt"
        with self.said.open("w") as err:
            self.process = subprocess.Popen(
                [sys.executable, "-c", "from sweeper.cli.main import main; main()", "dial", "test.chain.yaml",
                 "limiter", *self.arguments],
                cwd=self.folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=err, text=True,
                env={**os.environ, "DISPLAY": self.display, "TMPDIR": str(self.kept)}, start_new_session=True,
            )  # fmt: skip
        self.window = str(until(self._shown, "the window"))

    def _shown(self) -> str:
        assert self.process.poll() is None, self.said.read_text()
        return self.mouse("search", "--onlyvisible", "--name", "^Pedalboard$").split("\n")[0]

    def mouse(self, *words: str) -> str:
        return subprocess.run(["xdotool", *words], env={**os.environ, "DISPLAY": self.display}, capture_output=True,
                              text=True, check=False, timeout=20).stdout.strip()  # fmt: skip

    def drag(self) -> None:
        """The Release knob up by 30 pixels."""
        up = ("mousemove_relative", "--", "0", "-15")
        self.mouse("mousemove", "--window", self.window, *map(str, KNOB), "mousedown", "1", *up, *up, "mouseup", "1")

    def drag_until_kept(self, pool) -> float:
        """Drag until the state that is kept while the window is open has it; what it then says.

        A window may be there before it listens to the mouse: dragged again when the next kept state has nothing of it.
        """
        looked, dragged_s = b"", -math.inf

        def moved_ms() -> float:
            nonlocal looked, dragged_s
            if time.monotonic() > dragged_s + KEEP_EVERY_S + 1:
                self.drag()
                dragged_s = time.monotonic()
            state = next((path.read_bytes() for path in self.kept.glob("sweeper-dial-*/kept.vstpreset")), looked)
            if state == looked:
                return 0.0
            looked = state
            (self.folder / "looked.vstpreset").write_bytes(state)
            found_ms = release_ms(pool, self.folder / "looked.vstpreset")
            return found_ms if found_ms > 26 else 0.0

        return float(str(until(moved_ms, "the knob to move")))

    def close(self) -> str:
        """Close the window as the window manager does for Alt+F4; what was then said on stdout."""
        def press() -> None:
            if self._is_there():
                self.mouse("windowactivate", self.window)
                self.mouse("key", "alt+F4")

        until(lambda: not self._is_there(), "the window to close", press)
        return self.process.communicate(timeout=PATIENCE_S)[0]

    def _is_there(self) -> bool:
        return self.window in self.mouse("search", "--onlyvisible", "--name", "^Pedalboard$").split("\n")

    def worker(self) -> psutil.Process:
        """The process that has the window."""
        children = psutil.Process(self.process.pid).children(recursive=True)
        return next(child for child in children if any("ZaMaximX2" in m.path for m in child.memory_maps()))


def release_ms(pool, state: object) -> float:
    """What a new instance of the limiter with that state shows."""
    shown = done(pool, "hosting_tasks:standing", replace(stage(packaged("ZaMaximX2")), state=Path(str(state))))
    assert isinstance(shown, dict)
    return float(shown["Release"])


@pytest.fixture
def dialling(tmp_path, screen) -> Iterator[Callable[..., Dialling]]:
    """Starts the command in a folder with a mix and a chain file; ends what is left of it."""
    mix(tmp_path / "mix.wav", 3.0)
    chain_file(tmp_path, CHAIN)
    started: list[Dialling] = []

    def start(*arguments: str) -> Dialling:
        started.append(Dialling(tmp_path, screen, arguments))
        return started[-1]

    yield start
    for one in started:
        if one.process.poll() is None:
            one.process.kill()
            one.process.wait(10)


def test_what_is_dialled_is_in_the_chain_file_and_the_state(dialling, tmp_path, pool):
    window = dialling("--json", "--from", "0:01", "--to", "0:02")
    window.process.stdin.write("b\n")
    window.process.stdin.flush()
    until(lambda: "to match" in window.said.read_text(), "the bypass")
    window.drag_until_kept(pool)
    out = window.close()
    assert window.process.returncode == 0, window.said.read_text()
    assert "0:01.0 to 0:02.0 of mix.wav" in window.said.read_text()
    assert "start with your monitors turned down" in window.said.read_text()
    answer = json.loads(out)
    (changed,) = answer["changed"]
    assert (changed["setting"], changed["before"]) == ("Release", "25 ms")
    after_ms = float(changed["after"].removesuffix(" ms"))
    assert after_ms > 26
    new = CHAIN.replace("   # the good one\n", "   # the good one\n    state: states/limiter.vstpreset\n")
    assert (tmp_path / "test.chain.yaml").read_text() == new.replace('"25 ms"', f'"{changed["written"]}"')
    assert (tmp_path / answer["copy"]).read_text() == CHAIN
    assert release_ms(pool, tmp_path / answer["state"]) == pytest.approx(after_ms, abs=0.01)
    assert list(window.kept.iterdir()) == []
    checked = sweeper("check", "test.chain.yaml", "--json", cwd=tmp_path)
    assert checked.code == 0, checked.err


def test_an_untouched_window_writes_nothing(dialling, tmp_path):
    window = dialling()
    out = window.close()
    assert (window.process.returncode, out) == (0, "nothing was dialled, and nothing is written\n")
    assert (tmp_path / "test.chain.yaml").read_text() == CHAIN
    assert not (tmp_path / "states").exists()
    assert list(window.kept.iterdir()) == []


@pytest.mark.long
def test_ctrl_c_keeps_the_state_and_leaves_the_chain_file(dialling, tmp_path, pool):
    window = dialling()
    dialled_ms = window.drag_until_kept(pool)
    window.process.send_signal(signal.SIGINT)
    assert window.process.wait(PATIENCE_S) == 130
    assert (tmp_path / "test.chain.yaml").read_text() == CHAIN
    assert "what was dialled is kept in states/limiter.vstpreset" in window.said.read_text()
    assert release_ms(pool, tmp_path / "states" / "limiter.vstpreset") == pytest.approx(dialled_ms)


@pytest.mark.long
def test_a_plugin_that_dies_leaves_everything_as_it_was_but_what_was_kept(dialling, tmp_path, pool):
    window = dialling()
    dialled_ms = window.drag_until_kept(pool)
    window.worker().kill()
    assert window.process.wait(PATIENCE_S) == 4
    said = window.said.read_text()
    assert "was killed" in said
    assert "the chain file is as it was" in said
    (kept,) = window.kept.rglob("*.vstpreset")
    assert str(kept) in said
    assert release_ms(pool, kept) == pytest.approx(dialled_ms)
    assert (tmp_path / "test.chain.yaml").read_text() == CHAIN
    assert not (tmp_path / "states").exists()
    assert list(window.kept.rglob("*.wav")) == []


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [(["limiter"], 4, "DISPLAY is not set"), (["low cut"], 4, "cutoff frequency hz"),
     (["limter"], 3, "did you mean 'limiter'?"), (["colour"], 3, "--alternative: comp, Gain"),
     (["limiter", "--from", "0:01"], 2, "go together"),
     (["limiter", "--from", "2", "--to", "1"], 2, "no stretch of time"),
     (["limiter", "--mix", "4"], 3, "no mix is called '4'")],
)  # fmt: skip
def test_what_cannot_be_opened_is_said(tmp_path, arguments, code, words):
    mix(tmp_path / "mix.wav", 1.0)
    chain_file(tmp_path, CHAIN)
    ran = sweeper("dial", "test.chain.yaml", *arguments, cwd=tmp_path, DISPLAY="", WAYLAND_DISPLAY="")
    assert ran.code == code
    assert words in ran.err
    assert (tmp_path / "test.chain.yaml").read_text() == CHAIN


@pytest.mark.parametrize(("arguments", "words"), [(["--section", "verse"], "no section 'verse'"),
                                                  (["--from", "4", "--to", "5"], "lasts 0:01.0")])  # fmt: skip
def test_a_loop_outside_the_mix_is_said(tmp_path, screen, arguments, words):
    mix(tmp_path / "mix.wav", 1.0)
    chain_file(tmp_path, CHAIN)
    ran = sweeper("dial", "test.chain.yaml", "limiter", *arguments, cwd=tmp_path, DISPLAY=screen)
    assert ran.code == 3
    assert words in ran.err


def test_a_display_that_is_not_there_is_said(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain_file(tmp_path, CHAIN)
    ran = sweeper("dial", "test.chain.yaml", "limiter", cwd=tmp_path, DISPLAY=":7654")
    assert ran.code == 4
    assert "stage 'limiter' (ZaMaximX2): the window of ZaMaximX2 cannot be opened" in ran.err
    assert "set DISPLAY" in ran.err


def test_the_parent_never_loads_the_plugin_library():
    code = "import sys, sweeper.dial.dialling, sweeper.cli.dial; print(sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "'pedalboard'" not in loaded
