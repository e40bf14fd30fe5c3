from pathlib import Path

import pytest
from plugin_fixtures import pool, probes

__all__ = ["pool", "probes"]


@pytest.fixture
def plugins(probes: dict[str, Path]) -> Path:
    """The folder of our test plugins."""
    return probes["gain"].parent
