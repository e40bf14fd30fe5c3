"""Fixtures for tests that host plugins, and short ways to say what a stage is. Plugins load in workers only."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import plugin_builder
import pytest

from sweeper.chain.model import Channels, Choice, Number, SettingValue, Travel
from sweeper.host.setup import Dialled, StageSetup
from sweeper.units import parse_amount
from sweeper.workers import Failed, Pool, Task

#: Debian's zam-plugins.
PACKAGED = Path("/usr/lib/vst3")


@pytest.fixture(scope="session")
def probes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Our own test plugins, by their names in plugin_builder."""
    return plugin_builder.build_all(tmp_path_factory.mktemp("probes"))


@pytest.fixture(scope="session")
def pool() -> Iterator[Pool]:
    """One worker for everything that a test wants done with plugins."""
    with Pool(1) as one:
        yield one


def packaged(name: str) -> str:
    """The path of one of zam-plugins."""
    path = PACKAGED / f"{name}.vst3"
    assert path.is_dir(), f"{path} is missing: apt-get install zam-plugins"
    return str(path)


def value(text: str) -> SettingValue:
    """A number, a share of travel, or a choice, as a chain file would have it."""
    amount = parse_amount(text)
    if amount is not None and amount.unit == "% travel":
        return Travel(amount.value / 100, text)
    return Choice(text) if amount is None else Number(amount.value, amount.unit, text)


def stage(path: str | Path, channels: str = "stereo", name: str = "stage", **settings: str) -> StageSetup:
    """A stage; settings by name with underscores for spaces, values as in a chain file."""
    dialled = tuple(Dialled(key.replace("_", " "), "", value(text)) for key, text in settings.items())
    return StageSetup(name, str(path), None, Channels(channels), dialled)


def done(pool: Pool, function: str, argument: object) -> object:
    """The value of one task; fails the test with what the worker said when it came to nothing."""
    (outcome,) = pool.map_in_order([Task("one", function, argument, "the test")])
    if isinstance(outcome, Failed):
        if outcome.error is not None:
            raise outcome.error
        raise AssertionError(f"the worker {outcome.what}: {outcome.said}")
    return outcome.value
