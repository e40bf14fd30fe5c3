"""The private parts and the habits of pedalboard that the host rests on; a new version that breaks one is told here."""

from __future__ import annotations

import subprocess
import sys

import pedalboard
import pytest
from pedalboard import _pedalboard as internals
from plugin_fixtures import packaged

from sweeper.host.builtin_table import BUILTINS
from sweeper.host.settings import STUCK


def in_a_child(code: str) -> str:
    """What a fresh Python prints; plugins never load in this process."""
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True)
    return result.stdout.strip().splitlines()[-1]


LOAD = f"import numpy as np, pedalboard; p = pedalboard.VST3Plugin({packaged('ZaMaximX2')!r}); "


def test_the_hook_that_probes_every_setting_exists():
    assert hasattr(internals._PythonExternalPluginMixin, "__set_initial_parameter_values__")


def test_parameters_have_what_is_used():
    code = LOAD + "q = p._parameters[6]; print(q.name, q.label, q.num_steps > 1, q.is_automatable, " \
        "q.get_text_for_raw_value(0.5), isinstance(q.raw_value, float))"  # fmt: skip
    assert in_a_child(code) == "Threshold dB True True -15.000000 True"


def test_the_reload_type_can_be_forced():
    code = LOAD + "object.__setattr__(p, '_reload_type', pedalboard.ExternalPluginReloadType.PersistsAudioOnReset); " \
        "print(p._reload_type == pedalboard.ExternalPluginReloadType.PersistsAudioOnReset)"  # fmt: skip
    assert in_a_child(code) == "True"


def test_a_delay_is_taken_out_after_reset_and_the_first_output_is_short():
    code = LOAD + "x = np.zeros((2, 1024), np.float32); p.process(x, 44100, buffer_size=1024, reset=False); " \
        "p.reset(); print([p.process(x, 44100, buffer_size=1024, reset=False).shape[1] for _ in range(3)])"  # fmt: skip
    assert in_a_child(code) == "[544, 1024, 1024]"


def loading(path) -> str:
    """As LOAD, another plugin; with a block of silence and one of ones."""
    return f"import numpy as np, pedalboard; p = pedalboard.VST3Plugin({str(path)!r}); {BLOCKS}"


BLOCKS = "z = np.zeros((2, 1024), np.float32); o = z + 1; how = dict(buffer_size=1024, reset=False); "


def test_setting_a_position_needs_no_attribute_and_does_not_clamp():
    code = LOAD + "q = p._parameters[6]; q.raw_value = 0.25; a = q.raw_value; q.raw_value = 1.5; print(a, q.raw_value)"
    assert in_a_child(code) == "0.25 1.5"


@pytest.mark.parametrize(
    ("code", "says"),
    [("p.threshhold = 3; print(p.threshhold)", "3"),
     ("p.threshold_db = -10.0; p.threshold_db = float('nan'); print(p.threshold_db)", "-30.0"),
     ("p.threshold_db = -12.0; q = p.threshold_db; q.raw_value = 0.9; print(round(p.threshold_db, 3))", "-12.0")],
    ids=["a misspelt name", "no number", "a position behind an attribute"],
)  # fmt: skip
def test_attributes_go_wrong_in_silence(code, says):
    """Why settings are made by index and position, and read back."""
    assert in_a_child(LOAD + code) == says


def test_a_position_comes_back_nearer_than_counts_as_moved():
    code = LOAD + "q = p._parameters[6]; e = []\nfor k in range(1001):\n q.raw_value = k / 1000; " \
        "e.append(abs(q.raw_value - k / 1000))\nprint(max(e))"  # fmt: skip
    assert float(in_a_child(code)) < STUCK


def test_what_is_no_setting_is_among_the_settings():
    code = LOAD + "from sweeper.host.vst3 import HOST_INTERNALS as own; " \
        "print([q.name + '*' * (q.name in own) for q in p._parameters])"  # fmt: skip
    assert in_a_child(code) == str(["Buffer Size*", "Sample Rate*", "Latency*", "Current Program*", "Release",
                                    "Output Ceiling", "Threshold", "Gain Reduction", "Output Level"])  # fmt: skip


def test_a_continuous_setting_has_as_many_steps_as_there_are_numbers():
    assert in_a_child(LOAD + "print({q.num_steps for q in p._parameters[4:]})") == "{2147483647}"


def test_a_text_is_asked_without_moving_anything():
    code = LOAD + "q = p._parameters[6]; q.raw_value = 0.25; q.get_text_for_raw_value(0.75); print(q.raw_value)"
    assert in_a_child(code) == "0.25"


def test_where_a_setting_wakes_up_is_not_its_default():
    code = LOAD + "q = p._parameters[0]; print(q.default_raw_value, q.raw_value > 0)"
    assert in_a_child(code) == "0.0 True"


def test_of_two_settings_with_one_name_only_the_list_has_both(probes):
    code = loading(probes["twin_names"]) + "print([q.name for q in p._parameters], list(p.parameters))"
    assert in_a_child(code) == "['Band', 'Band'] ['band_db']"


def test_the_library_remembers_what_it_set_and_the_state_what_the_plugin_made_of_it(probes):
    code = loading(probes["refuse_set"]) + "p._parameters[0].raw_value = 0.75; p.process(z, 44100, **how); " \
        "print(p._parameters[0].raw_value, b'amount\\x005\\x00' in p.preset_data)"  # fmt: skip
    assert in_a_child(code) == "0.75 True"


def test_a_state_has_a_setting_only_after_silence():
    code = LOAD + BLOCKS + "a = bytes(p.preset_data); p._parameters[6].raw_value = 0.25; b = bytes(p.preset_data); " \
        "p.process(z, 44100, **how); print(b == a, bytes(p.preset_data) == a)"  # fmt: skip
    assert in_a_child(code) == "True False"


@pytest.mark.parametrize("form", ["preset_data", "raw_state"])
def test_a_state_comes_back_in_another_instance_to_the_bit(form):
    code = LOAD + BLOCKS + "p._parameters[6].raw_value = 0.25; p.process(z, 44100, **how); " \
        f"q = pedalboard.VST3Plugin({packaged('ZaMaximX2')!r}); q.{form} = bytes(p.{form}); " \
        "print(q._parameters[6].raw_value, q.preset_data == p.preset_data)"  # fmt: skip
    assert in_a_child(code) == "0.25 True"


TRY = "\ntaken = []\nfor bad in (b'junk', s[:40], s[:100]):\n try:\n  p.{0} = bad; taken.append(True)\n" \
    " except RuntimeError:\n  taken.append(False)\nprint(taken)"  # fmt: skip


def test_junk_is_taken_in_silence_by_one_form_of_state_and_refused_by_the_other():
    assert in_a_child(LOAD + "s = bytes(p.raw_state)" + TRY.format("raw_state")) == "[True, True, True]"
    assert in_a_child(LOAD + "s = bytes(p.preset_data)" + TRY.format("preset_data")) == "[False, False, False]"


def test_a_delay_is_taken_out_within_one_call_and_the_length_kept(probes):
    code = loading(probes["delay_honest"]) + "x = np.zeros((2, 4096), np.float32); x[:, 1000] = 1; " \
        "y = p.process(x, 44100, buffer_size=1024, reset=True); print(y.shape, y[0].argmax())"  # fmt: skip
    assert in_a_child(code) == "(2, 4096) 1000"


def test_a_delay_is_not_taken_out_before_the_first_reset(probes):
    code = loading(probes["delay_honest"]) + "z[:, 100] = 1; y = p.process(z, 44100, **how); " \
        "print(y.shape, y[0].argmax())"  # fmt: skip
    assert in_a_child(code) == "(2, 1024) 541"


def test_a_forced_reset_makes_the_plugin_anew_from_its_state(probes):
    """So a plugin that restores half of a setting is heard at half of it: settings are confirmed after a reset."""
    forced = "object.__setattr__(p, '_reload_type', pedalboard.ExternalPluginReloadType.PersistsAudioOnReset); "
    code = loading(probes["state_wrong"]) + forced + "p._parameters[1].raw_value = 0.75; p.process(z, 44100, **how); " \
        "p.reset(); print(p._parameters[1].raw_value, b'drive\\x003\\x00' in p.preset_data)"  # fmt: skip
    assert in_a_child(code) == "0.75 True"


SIZES = """
n = (np.random.default_rng(1).standard_normal((2, 8192)) * 0.3).astype(np.float32)
p._parameters[6].raw_value = 0.2
p.process(z, 44100, **how)
def run(sizes):
    p.reset()
    cuts = np.cumsum([0, *sizes])
    out = [p.process(n[:, a:b], 44100, buffer_size=b - a, reset=False) for a, b in zip(cuts, cuts[1:])]
    return np.concatenate(out, axis=1)
whole = run([1024] * 8)
print(abs(run([1024] * 8) - whole).max() == 0, abs(run([512, 512] + [1024] * 7) - whole).max() > 0.1)
"""


def test_one_block_size_repeats_and_a_later_larger_block_wipes_what_was_heard():
    assert in_a_child(LOAD + BLOCKS + SIZES) == "True True"


def test_a_setting_is_heard_from_the_first_frame_of_the_next_call(probes):
    code = loading(probes["gain"]) + "p.process(o, 44100, **how); p._parameters[0].raw_value = 0.25; " \
        "y = p.process(o, 44100, **how); print(y[0, 0] == y[0, -1], y[0, 0] < 0.5)"  # fmt: skip
    assert in_a_child(code) == "True True"


@pytest.mark.parametrize("builtin", BUILTINS, ids=lambda b: b.name)
def test_every_builtin_effect_has_the_settings_of_our_table(builtin):
    effect = getattr(pedalboard, builtin.name)()
    for setting in builtin.settings:
        value = getattr(effect, setting.attribute)
        if not setting.choices:
            assert setting.low <= value <= setting.high
            setattr(effect, setting.attribute, setting.low)
            setattr(effect, setting.attribute, setting.high)
