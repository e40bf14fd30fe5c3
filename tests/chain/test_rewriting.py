"""A chain file rewritten: what was asked for is new, every other character is as it was."""

from __future__ import annotations

import difflib

import pytest

from sweeper.chain import load_chain
from sweeper.chain.rewriting import rewritten
from sweeper.errors import ChainFileError

STATE = "states/glue.vstpreset"
BLOCK = """\
# a note
title: Lantern Bay   # another
mix: mix.wav
inserts:
  - name: glue
    plugin: My Compressor   # the good one
    settings:
      Threshold: -12 dB     # by ear
      Ratio: 2
  - {name: tube, plugin: My Tube}
"""
#: layout -> (the text, the lines that go, the lines that come) where Threshold becomes -9.5 dB.
LAYOUTS = {
    "block": (BLOCK, ["      Threshold: -12 dB     # by ear"],
              [f"    state: {STATE}", "      Threshold: -9.5 dB     # by ear"]),
    "state there": (
        BLOCK.replace("    settings:", "    state: old.vstpreset # was\n    settings:"),
        ["    state: old.vstpreset # was", "      Threshold: -12 dB     # by ear"],
        [f"    state: {STATE} # was", "      Threshold: -9.5 dB     # by ear"]),
    "state in quotes": (
        BLOCK.replace("    plugin", "    state: 'old.vstpreset'\n    plugin"),
        ["    state: 'old.vstpreset'", "      Threshold: -12 dB     # by ear"],
        [f"    state: '{STATE}'", "      Threshold: -9.5 dB     # by ear"]),
    "plugin first": (
        "mix: mix.wav\ninserts:\n- plugin: My Compressor\n  name: glue\n  settings: {Threshold: '-12 dB'}",
        ["  settings: {Threshold: '-12 dB'}"], [f"  state: {STATE}", "  settings: {Threshold: '-9.5 dB'}"]),
    "last line": (
        "mix: mix.wav\ninserts:\n  -   name: glue\n      settings: {Threshold: -12 dB}\n      plugin: My Compressor",
        ["      settings: {Threshold: -12 dB}"],
        ["      settings: {Threshold: -9.5 dB}", f"      state: {STATE}"]),
    "flow": (
        'mix: mix.wav\ninserts: [{name: glue, plugin: "My Compressor", settings: {"Threshold": "-12 dB", Ratio: 2}}]\n',
        ['inserts: [{name: glue, plugin: "My Compressor", settings: {"Threshold": "-12 dB", Ratio: 2}}]'],
        [f'inserts: [{{name: glue, plugin: "My Compressor", state: {STATE}, '
         'settings: {"Threshold": "-9.5 dB", Ratio: 2}}]']),
    "flow over lines": (
        "mix: mix.wav\ninserts: [\n  {name: glue,\n   plugin: My Compressor,  # good\n"
        "   settings: {Threshold: -12 dB}}]\n",
        ["   plugin: My Compressor,  # good", "   settings: {Threshold: -12 dB}}]"],
        [f"   plugin: My Compressor, state: {STATE},  # good", "   settings: {Threshold: -9.5 dB}}]"]),
    "unicode": (
        "title: Große Straße 東京\nmix: mix.wav\ninserts:\n  - name: glue   # Kleber „gut“ 🎚\n"
        "    plugin: My Compressor\n    settings: {Threshold: −12 dB}\n",
        ["    settings: {Threshold: −12 dB}"], [f"    state: {STATE}", "    settings: {Threshold: -9.5 dB}"]),
    "alternatives": (
        "mix: mix.wav\ninserts:\n  - name: glue\n    any of:\n"
        "      - {plugin: My Compressor, settings: {Threshold: -12 dB}}\n"
        "      - {plugin: Other, settings: {Threshold: -12 dB}}\n",
        ["      - {plugin: My Compressor, settings: {Threshold: -12 dB}}"],
        [f"      - {{plugin: My Compressor, state: {STATE}, settings: {{Threshold: -9.5 dB}}}}"]),
    "on a bus": (
        "mix: mix.wav\nbuses:\n  - name: lift\n    level: -12 dB\n    inserts:\n      - name: glue\n"
        "        plugin: My Compressor\n        settings: {Threshold: -12 dB}\n",
        ["        settings: {Threshold: -12 dB}"],
        [f"        state: {STATE}", "        settings: {Threshold: -9.5 dB}"]),
}  # fmt: skip


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "states").mkdir()
    for name in ("mix.wav", "old.vstpreset", STATE):
        (tmp_path / name).write_bytes(b"")
    return tmp_path


def first_stage(chain):
    return next(stage for stage in chain.stages if stage.name == "glue").choices[0]


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_only_what_changes_is_touched(folder, layout, line_end):
    text, gone, come = LAYOUTS[layout]
    text = text.replace("\n", line_end)
    chain = load_chain(folder / "chain.yaml", text)
    new = rewritten(chain, first_stage(chain), STATE, {("", "Threshold"): "-9.5 dB"})
    assert new.count("\r\n") == (new.count("\n") if line_end == "\r\n" else 0)
    assert new.count("\n") == text.count("\n") + len(come) - len(gone)
    lines = [line for line in difflib.ndiff(text.splitlines(), new.splitlines()) if line[:2] in ("- ", "+ ")]
    assert [line[2:] for line in lines if line[0] == "-"] == gone
    assert sorted(line[2:] for line in lines if line[0] == "+") == sorted(come)
    stage = first_stage(load_chain(folder / "chain.yaml", new))
    assert stage.state == folder / STATE
    assert stage.settings[0].value.text == "-9.5 dB"


def test_each_side_has_its_own_place(folder):
    text = ("mix: mix.wav\ninserts:\n  - {name: glue, plugin: C, channels: mid/side,\n"
            "     settings: {mid: {Gain: 1 dB}, side: {Gain: 1 dB}}}\n")  # fmt: skip
    chain = load_chain(folder / "chain.yaml", text)
    new = rewritten(chain, first_stage(chain), STATE, {("side", "Gain"): "25.5 % travel"})
    assert new.endswith("settings: {mid: {Gain: 1 dB}, side: {Gain: 25.5 % travel}}}\n")


@pytest.mark.parametrize(
    ("new", "written"),
    [("Warm, soft", '"Warm, soft"'), ("4:1", '"4:1"'), ("#2", '"#2"'), ("yes", "yes"), ("- 3 dB", '"- 3 dB"'),
     ("-inf", '"-inf"'), ("it's", '"it\'s"'), ('12"', '"12\\""'), ("Tube A", "Tube A"), ("Größe", "Größe")],
)  # fmt: skip
def test_what_needs_quotes_gets_them(folder, new, written):
    text = "mix: mix.wav\ninserts: [{name: glue, plugin: C, settings: {Mode: Cold}}]\n"
    chain = load_chain(folder / "chain.yaml", text)
    assert f"settings: {{Mode: {written}}}" in rewritten(chain, first_stage(chain), STATE, {("", "Mode"): new})


def test_a_state_whose_name_needs_quotes(folder):
    (folder / "states" / "the glue, 2.vstpreset").write_bytes(b"")
    chain = load_chain(folder / "chain.yaml", LAYOUTS["flow"][0])
    new = rewritten(chain, first_stage(chain), "states/the glue, 2.vstpreset", {})
    assert 'state: "states/the glue, 2.vstpreset"' in new


@pytest.mark.parametrize(
    "text",
    ["mix: mix.wav\ninserts:\n  - {name: glue, plugin: C, settings: &all {Gain: 1 dB}}\n"
     "  - {name: tube, plugin: D, settings: *all}\n",
     "mix: mix.wav\ninserts:\n  - {name: glue, plugin: C, settings: {Gain: &one 1 dB, Trim: *one}}\n",
     "mix: mix.wav\ninserts:\n  - name: glue\n    plugin: C\n    settings:\n      Gain: |\n        1 dB\n"],
    ids=["settings of two stages", "a value named elsewhere", "a value in a block"],
)  # fmt: skip
def test_what_would_change_more_is_left_to_a_hand(folder, text):
    chain = load_chain(folder / "chain.yaml", text)
    with pytest.raises(ChainFileError) as refused:
        rewritten(chain, first_stage(chain), STATE, {("", "Gain"): "2 dB"})
    (problem,) = refused.value.problems
    assert problem.remedy == f"write into it by hand: state: {STATE}; Gain: 2 dB"
    assert problem.line == first_stage(chain).plugin_mark.line


def test_tabs_never_come_so_far(folder):
    with pytest.raises(ChainFileError, match="tab"):
        load_chain(folder / "chain.yaml", "mix: mix.wav\ninserts:\n\t- plugin: C\n")
