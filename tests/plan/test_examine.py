"""Chain files held against real plugins, in a worker. Packaged plugins: Debian's zam-plugins."""

from __future__ import annotations

from pathlib import Path

import pytest
from plugin_fixtures import done, packaged, stage

from sweeper.audio.format import AudioFormat
from sweeper.chain import Travel, load_chain
from sweeper.errors import ChainFileError
from sweeper.plan.examine import examine
from sweeper.plan.variants import variants

FORMATS = [AudioFormat(2, 44100), AudioFormat(2, 48000)]
MAXIM, COMP, TUBE = packaged("ZaMaximX2"), packaged("ZaMultiCompX2"), packaged("ZamTube")


@pytest.fixture
def chain(tmp_path: Path):
    (tmp_path / "a.wav").write_bytes(b"")

    def loaded(text: str):
        (tmp_path / "c.yaml").write_text("mix: a.wav\n" + text)
        return load_chain(tmp_path / "c.yaml")

    return loaded


@pytest.fixture
def found(chain, pool):
    """The variants of a chain file's text, and the warnings."""

    def made(text: str):
        one = chain(text)
        known = examine(one, FORMATS, pool, 1024, 60)
        return variants(one, known), known

    return made


@pytest.fixture
def problems(chain, pool):
    def made(text: str):
        with pytest.raises(ChainFileError) as refused:
            examine(chain(text), FORMATS, pool, 1024, 60)
        return [(f"{p.line}:{p.column}", p.what.replace(MAXIM, "MAXIM"), p.remedy) for p in refused.value.problems]

    return made


def dialled(variant, number=0):
    return [(s.name, s.side, s.value.text, pytest.approx(s.raw, abs=1e-6)) for s in variant.stages[number].settings]


def test_every_setting_has_the_controls_own_name_and_position(found):
    """Positions by hand: threshold -30 to 0 dB, ceiling -30 to 0 dB, release 1 to 100 ms, all even."""
    (one, two), known = found(f"""
output: {{name: lim, plugin: {MAXIM}, settings: {{threshold: -3 dB, "outputceiling": 50 % travel}}}}
vary: {{lim.release: [0.001 s, 50.5 ms]}}
""")
    assert dialled(one) == [("Threshold", "", "-3 dB", 0.9), ("Output Ceiling", "", "50 % travel", 0.5),
                            ("Release", "", "0.001 s", 0.0)]  # fmt: skip
    assert dialled(two)[2] == ("Release", "", "50.5 ms", 0.5)
    assert known.plugins[("lim", "")].name == "ZaMaximX2"
    assert known.warnings == ()


def test_steps_start_from_the_settings_of_the_file_for_each_side(found):
    (zero, more), _ = found(f"""
inserts:
  - {{name: c, plugin: {TUBE}, channels: mid/side, settings: {{mid: {{bass: 2}}, side: {{Bass: 4}}, mids: 7}}}}
vary: {{c.Bass: {{from dialled: [0, 10 % travel]}}}}
""")
    assert dialled(zero)[1:] == [("Bass", "mid", "as dialled", 0.2), ("Bass", "side", "as dialled", 0.4)]
    assert dialled(more)[1:] == [("Bass", "mid", "dialled +10 % travel", 0.3),
                                 ("Bass", "side", "dialled +10 % travel", 0.5)]  # fmt: skip


def test_steps_start_from_the_state_where_the_file_sets_nothing(found, pool, tmp_path):
    state = tmp_path / "lim.vstpreset"
    done(pool, "hosting_tasks:saved_state", (stage(MAXIM, Threshold="-12 dB"), state))
    three, _ = found(f"""
output: {{name: lim, plugin: {MAXIM}, state: lim.vstpreset, drive: lower Threshold}}
vary: {{lim.drive: {{from dialled: [-3 dB, 0 % travel, 5 % travel]}}}}
""")
    assert [dialled(one) for one in three] == [
        [("Threshold", "", "dialled -3 dB", 0.7)], [("Threshold", "", "as dialled", 0.6)],
        [("Threshold", "", "dialled +5 % travel", 0.55)]], "more drive is a lower threshold"  # fmt: skip
    assert all(isinstance(one.stages[0].settings[0].value, Travel) for one in three)


def test_a_step_beyond_the_end_is_told_at_its_place(problems):
    assert problems(f"""
output: {{name: lim, plugin: {MAXIM}, settings: {{Threshold: -1.5 dB}}}}
vary:
  lim.Threshold: {{from dialled: [5 % travel, 10 % travel]}}
""") == [("5:3", "stage 'lim': 'Threshold' is dialled at -1.5 dB, 95 % of its way; 10 % more is beyond",
          "it can go 95 % down and 5 % up from there")]  # fmt: skip


def test_a_built_in_effect_steps_from_where_it_wakes_up(found):
    (one,), _ = found("""
output: {name: lim, plugin: "builtin:BrickwallLimiter"}
vary: {lim.ceiling db: {from dialled: [-1 dB]}}
""")
    assert dialled(one) == [("ceiling db", "", "dialled -1 dB", 22 / 24)]


CHOICE = f"""
inserts:
  - name: dyn
    any of:
      - {{plugin: {MAXIM}, drive: lower Threshold, settings: {{output ceiling: -1 dB}}}}
      - {{plugin: {COMP}, drive: raise Master Trim, settings: {{ratio1: 10.5}}}}
"""


def test_each_alternative_is_looked_up_for_itself(found):
    (maxim, comp), known = found(CHOICE + "vary: {dyn.drive: [0 dB]}\n")
    assert dialled(maxim) == [("Output Ceiling", "", "-1 dB", 29 / 30), ("Threshold", "", "0 dB", 1.0)]
    assert dialled(comp) == [("Ratio1", "", "10.5", 0.5), ("Master Trim", "", "0 dB", 0.5)]
    assert list(known.paths) == [("dyn", "ZaMaximX2"), ("dyn", "ZaMultiCompX2")]
    assert [maxim.varied, comp.varied] == [{"dyn": "ZaMaximX2", "dyn.drive": "0 dB"},
                                           {"dyn": "ZaMultiCompX2", "dyn.drive": "0 dB"}]  # fmt: skip


def test_a_setting_that_one_alternative_lacks_is_varied_in_the_other_and_told(found):
    three, known = found(CHOICE + "vary: {dyn.release: [10 ms, 20 ms]}\n")
    assert [one.varied for one in three] == [
        {"dyn": "ZaMaximX2", "dyn.release": "10 ms"}, {"dyn": "ZaMaximX2", "dyn.release": "20 ms"},
        {"dyn": "ZaMultiCompX2"}]  # fmt: skip
    assert known.warnings == ("'dyn.release' is varied where it exists: 'ZaMultiCompX2' has no such setting",)


def test_a_setting_that_no_alternative_has_is_a_fault_of_each(problems):
    found = problems(CHOICE + "vary: {dyn.Treshold: [10 ms, 20 ms]}\n")
    assert [(place, what) for place, what, _ in found] == [
        ("8:8", "stage 'dyn' (ZaMaximX2): no setting is called 'Treshold'"),
        ("8:8", "stage 'dyn' (ZaMultiCompX2): no setting is called 'Treshold'")]  # fmt: skip
    assert found[0][2] == "did you mean 'Threshold'?"


def test_a_solved_setting_must_be_in_every_alternative(problems):
    (fault,) = problems(CHOICE + "reach: {loudness: -9 LUFS, by: dyn.Release}\n")
    assert fault[1] == "stage 'dyn' (ZaMultiCompX2): no setting is called 'Release'"


def test_a_value_out_of_range_in_one_alternative_is_a_fault_there(problems):
    (fault,) = problems(CHOICE + "vary: {dyn.drive: [-20 dB]}\n")
    assert fault == ("8:8", "stage 'dyn' (ZaMultiCompX2): 'Master Trim' cannot be -20 dB", "it goes from -12 to 12 dB")


def test_a_plain_value_out_of_range_in_one_alternative_is_no_missing_setting(problems):
    (fault,) = problems("""
output:
  - name: dyn
    any of: [{plugin: "builtin:Compressor"}, {plugin: "builtin:NoiseGate"}]
vary: {dyn.threshold db: [-80 dB]}
""")
    assert fault[:2] == ("6:8", "stage 'dyn' (Compressor): 'threshold db' cannot be -80 dB")


def test_an_alternative_that_is_not_installed_is_told_at_its_place(problems):
    found = problems(CHOICE.replace(COMP, "builtin:Compresor"))
    assert [(place, what) for place, what, _ in found] == [("7:18", "there is no built-in effect 'Compresor'")]


def test_nothing_steps_in_a_plugin_that_does_not_fit(problems):
    (fault,) = problems(f"""
inserts: [{{name: c, plugin: {TUBE}}}]
vary: {{c.Bass: {{from dialled: [60 % travel]}}}}
""")
    assert fault[1] == "stage 'c': ZamTube takes one channel, the mix has two"


def test_a_handle_that_a_stage_does_not_have_is_named_as_one(problems):
    ((place, what, remedy),) = problems(f"""
output: {{name: lim, plugin: {MAXIM}, drive: lower Threshold}}
reach: [{{true peak: at most -1 dBTP, by: lim.ceiling}}]
""")
    assert (place, what) == ("4:10", "stage 'lim' has no setting and no handle called 'ceiling'")
    assert remedy.startswith("say what it is, e.g. `ceiling: Output Ceiling`; ")
