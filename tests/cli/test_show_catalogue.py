from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from sweeper.cli import load_plugins as loading
from sweeper.cli import show_catalogue as showing
from sweeper.cli.load_plugins import load_plugins, summary
from sweeper.cli.show_catalogue import kind_word, reason, show_loaded
from sweeper.host.bundle import Installed
from sweeper.host.tried import Loads, Program, Quarantined, Tried

COMP = Installed("Comp [x]", Path("Comp.vst3"), "VST3", "", "", ("Comp [x]",), "")
GOOD = Tried(Program(1, 1, "", ""), (Loads("Comp [x]", "M", "1", "id", "Fx|Dynamics", 2, 0, 12, 0.25),), ())
BAD = Tried(Program(1, 1, "", ""), (), (Quarantined("", "crashed", "crashed while loading", "update it", "no dongle"),))


def category(word: str) -> Loads:
    return Loads("Comp", "M", "1", "id", word, 2, 0, 12, 0.25)


@pytest.mark.parametrize(
    ("told", "shown"),
    [("Fx|Dynamics|Stereo", "dynamics, stereo"), ("Fx", ""), ("Effect", ""), ("", ""), ("Audio Module Class", "")],
)
def test_a_plugins_own_word_for_what_it_is(told, shown):
    assert kind_word(category(told)) == shown


def test_the_last_words_are_those_of_a_plugin_that_could_not_say_more():
    assert reason(BAD.quarantined[0]) == "crashed while loading; it last said: no dongle"
    assert reason(Quarantined("", "refused", "is an instrument", "take it out", "hello")) == "is an instrument"


def test_a_quarantined_plugin_is_listed_with_what_to_do_and_where_it_lies(monkeypatch):
    console = Console(file=io.StringIO(), width=60, color_system=None)
    monkeypatch.setattr(showing, "installed", lambda: (COMP,))
    monkeypatch.setattr(showing, "known_of", lambda plugin, known: BAD)
    monkeypatch.setattr(showing, "out", lambda: console)
    showing.show_catalogue()
    told = "quarantined: crashed while loading; it last said: no dongle; update it; it lies at Comp.vst3"
    assert f"  Comp [x] (VST3): {told}\n" in console.file.getvalue()


def test_what_came_of_a_file_in_a_line():
    assert show_loaded(COMP, GOOD) == r"Comp \[x]: loads, 12 settings, 0.2 s"
    assert show_loaded(COMP, BAD) == r"[red]Comp \[x]: crashed while loading; it last said: no dongle[/red]"


@pytest.mark.parametrize(
    ("terminal", "quiet", "said"), [(True, False, True), (True, True, False), (False, False, False)]
)
def test_progress_is_for_terminals_that_want_it(monkeypatch, terminal, quiet, said):
    monkeypatch.setattr(loading, "installed", lambda: (COMP,))
    monkeypatch.setattr(loading, "to_be_loaded", lambda plugins, again: plugins)
    monkeypatch.setattr(loading, "load_all", lambda plugins, workers, patience_s, watch: iter([(COMP, GOOD)]))
    console = Console(file=io.StringIO(), force_terminal=terminal, width=100, color_system=None)
    assert load_plugins(2, 60.0, False, quiet, console) == [GOOD]
    assert ("1/1 Comp [x]: loads, 12 settings" in console.file.getvalue()) is said
    assert bool(console.file.getvalue()) is said


def test_the_summary_counts():
    assert summary([GOOD, GOOD]) == "2 loaded, 0 quarantined"
    assert summary([GOOD, BAD]) == "1 loaded, 1 quarantined; --again loads every one once more"
    assert summary([]).startswith("every plugin is known as it is")
