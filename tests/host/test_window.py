"""What has no window says so. Real windows: tests/whole/test_dial.py."""

from __future__ import annotations

import pytest
from plugin_fixtures import done

from sweeper.errors import PluginError


def test_a_built_in_effect_has_none(pool):
    with pytest.raises(PluginError, match="has no window"):
        done(pool, "dialling_tasks:window_of", "builtin:Gain")


def test_a_plugin_without_a_window_of_its_own_is_refused(pool, probes):
    with pytest.raises(PluginError, match="cannot be opened"):
        done(pool, "dialling_tasks:window_of", str(probes["gain"]))
