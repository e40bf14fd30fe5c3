"""The private parts and the habits of pedalboard that the host rests on; a new version that breaks one is told here."""

from __future__ import annotations

import subprocess
import sys

import pedalboard
import pytest
from pedalboard import _pedalboard as internals
from plugin_fixtures import packaged

from sweeper.host.builtin_table import BUILTINS


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


def test_setting_a_position_needs_no_attribute_and_does_not_clamp():
    code = LOAD + "p._parameters[6].raw_value = 0.25; print(round(p._parameters[6].raw_value, 6))"
    assert in_a_child(code) == "0.25"


@pytest.mark.parametrize("builtin", BUILTINS, ids=lambda b: b.name)
def test_every_builtin_effect_has_the_settings_of_our_table(builtin):
    effect = getattr(pedalboard, builtin.name)()
    for setting in builtin.settings:
        value = getattr(effect, setting.attribute)
        if not setting.choices:
            assert setting.low <= value <= setting.high
            setattr(effect, setting.attribute, setting.low)
            setattr(effect, setting.attribute, setting.high)
