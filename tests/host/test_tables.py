"""Texts of controls remembered from one look to the next, and never believed against the living plugin."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from fake_control import FakeControl, linear

from sweeper.chain.model import Number
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.resolve import resolve
from sweeper.host.scale import scale
from sweeper.host.tables import MOST_TEXTS, TabledControl, found_by, tabled, texts_folder


@dataclass
class Counted(FakeControl):
    """A control that counts how often its plugin is asked."""

    asked: list[float] = field(default_factory=list)

    def text_at(self, raw: float) -> str:
        self.asked.append(raw)
        return super().text_at(raw)


def threshold(low: float = -30, high: float = 0, **how) -> Counted:
    return Counted("Threshold", linear(low, high), "dB", **how)


@pytest.fixture
def plugin(tmp_path) -> str:
    """A file that stands for a plugin's."""
    file = tmp_path / "Some.vst3"
    file.write_bytes(b"version 1")
    return str(file)


def number(value: float) -> Number:
    return Number(value, "dB", f"{value} dB")


def looked_up(plugin: str, control: Control, value: float, folder: Path) -> float:
    with tabled(plugin, [control], folder) as (known,):
        return found_by(known, lambda each: resolve(each, number(value)))


def test_a_second_look_asks_next_to_nothing_and_finds_the_same(plugin, tmp_path):
    first, second = threshold(), threshold()
    raw = looked_up(plugin, first, -7.3, tmp_path / "texts")
    assert len(first.asked) > 65
    assert looked_up(plugin, second, -7.3, tmp_path / "texts") == raw
    assert len(second.asked) == 4, "three places, and the one that was found"
    assert raw == resolve(threshold(), number(-7.3)), "as without remembering"


def test_a_knob_has_the_same_scale(plugin, tmp_path):
    for asked in (65, 3):
        control = threshold()
        with tabled(plugin, [control], tmp_path) as (known,):
            unit, raws, numbers = scale(known)
        alone = scale(threshold())
        assert (unit, list(raws), list(numbers)) == (alone[0], list(alone[1]), list(alone[2]))
        assert len(set(control.asked)) == asked


def test_what_hangs_on_another_setting_is_asked_anew(plugin, tmp_path):
    looked_up(plugin, threshold(), -6, tmp_path)
    other_range = threshold(-60, 0)
    assert looked_up(plugin, other_range, -6, tmp_path) == pytest.approx(0.9)
    assert len(other_range.asked) > 65
    again = threshold(-60, 0)
    assert looked_up(plugin, again, -6, tmp_path) == pytest.approx(0.9)
    assert len(again.asked) == 4


def test_a_text_that_changed_between_the_three_places_is_not_believed(plugin, tmp_path):
    """The plugin shows the same nearly everywhere, but not where the number was found: it is looked for again."""
    looked_up(plugin, threshold(), -27, tmp_path)
    bent = Counted("Threshold", lambda raw: linear(-30, 0)(raw if raw > 0.15 else raw * 0.9), "dB")
    raw = looked_up(plugin, bent, -27, tmp_path)
    assert raw == pytest.approx(0.1 / 0.9, abs=1e-6)


def test_a_refusal_is_the_plugins_own(plugin, tmp_path):
    with pytest.raises(SettingError):
        looked_up(plugin, threshold(), -40, tmp_path)
    wider = Counted("Threshold", lambda raw: linear(-30, 0)(raw) if raw > 0.01 else "-50", "dB")
    assert wider.text_at(looked_up(plugin, wider, -50, tmp_path)) == "-50"


@pytest.mark.parametrize("changed", ["program", "name", "index", "unit", "steps"])
def test_another_plugin_or_control_is_asked(plugin, tmp_path, changed):
    looked_up(plugin, threshold(), -6, tmp_path / "texts")
    other = threshold()
    if changed == "program":
        Path(plugin).write_bytes(b"version 2, longer")
    else:
        setattr(other, changed, {"name": "Thresholds", "index": 7, "unit": "dBFS", "steps": 31}[changed])
        other.unit = "dB" if changed != "unit" else "dBu"
    with tabled(plugin, [other], tmp_path / "texts") as (known,):
        assert not known.remembers


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b'{"schema": 1}', b'{"schema": 99, "controls": {}}', b"\xff\xfe",
                                    b'{"schema": 1, "controls": {"0 0 dB Threshold": [[1, 2, 3]]}}'])  # fmt: skip
def test_a_damaged_file_is_written_anew(plugin, tmp_path, damage):
    looked_up(plugin, threshold(), -6, tmp_path / "texts")
    (file,) = (tmp_path / "texts").iterdir()
    whole = file.read_bytes()
    file.write_bytes(damage)
    assert looked_up(plugin, threshold(), -6, tmp_path / "texts") == pytest.approx(0.8)
    assert file.read_bytes() == whole
    assert [each.name for each in (tmp_path / "texts").iterdir()] == [file.name], "nothing is left beside it"


def test_a_folder_that_cannot_be_written_costs_nothing_but_time(plugin, tmp_path):
    (tmp_path / "texts").write_text("a file where the folder should be")
    for _ in range(2):
        assert looked_up(plugin, threshold(), -6, tmp_path / "texts") == pytest.approx(0.8)


@pytest.mark.parametrize(("path", "folder"), [("builtin:Gain", True), ("/nowhere/Gone.vst3", True), ("", False)])
def test_where_nothing_is_remembered_controls_are_what_they_were(plugin, tmp_path, path, folder):
    control = threshold()
    with tabled(path or plugin, [control], tmp_path / "texts" if folder else None) as (known,):
        assert known is control
        known.text_at(0.5)
    assert not (tmp_path / "texts").exists()


def test_what_one_look_finds_is_kept_by_the_next_that_looks_elsewhere(plugin, tmp_path):
    other = Counted("Release", linear(1, 100), "ms", index=1)
    looked_up(plugin, threshold(), -6, tmp_path)
    with tabled(plugin, [other], tmp_path) as (known,):
        known.text_at(0.5)
    with tabled(plugin, [threshold(), other], tmp_path) as both:
        assert all(isinstance(each, TabledControl) and each.remembers for each in both)


def test_it_stays_the_control_that_it_was(plugin, tmp_path):
    control = threshold(at=0.25)
    with tabled(plugin, [control], tmp_path) as (known,):
        known.put(0.75)
        assert (known.raw(), control.at, known.name, known.unit, known.steps) == (0.75, 0.75, "Threshold", "dB", 0)


def test_the_file_does_not_grow_without_end(plugin, tmp_path):
    with tabled(plugin, [threshold()], tmp_path / "texts") as (known,):
        for number in range(MOST_TEXTS + 500):
            assert known.text_at(number / 3000) == threshold().show(number / 3000)
    (file,) = (tmp_path / "texts").iterdir()
    assert len(json.loads(file.read_text("utf-8"))["controls"]["0 0 dB Threshold"]) == MOST_TEXTS


def test_it_lies_beside_what_else_is_remembered_of_plugins(tmp_path, monkeypatch):
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path))
    assert texts_folder() == tmp_path / "texts"


WRITER = """
import sys
from pathlib import Path
from fake_control import FakeControl, linear
from sweeper.host.tables import tabled
for turn in range(60):
    control = FakeControl("Threshold", linear(-30, 0), "dB", index=int(sys.argv[3]))
    with tabled(sys.argv[1], [control], Path(sys.argv[2])) as (known,):
        for place in range(200):
            assert known.text_at((place + turn) / 400) == control.text_at((place + turn) / 400)
"""


def test_two_processes_at_once_leave_a_whole_file(plugin, tmp_path):
    folder = tmp_path / "texts"
    arguments = [plugin, str(folder)]
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}
    both = [subprocess.Popen([sys.executable, "-c", WRITER, *arguments, str(k)], env=here) for k in range(2)]
    seen = 0
    while any(process.poll() is None for process in both):
        for file in folder.glob("*.json"):
            assert json.loads(file.read_text("utf-8"))["schema"] == 1
            seen += 1
    assert [process.wait() for process in both] == [0, 0]
    assert seen
    assert len(list(folder.iterdir())) == 1
