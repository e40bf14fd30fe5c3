from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import heard_runs
import pytest

from sweeper.audition.gathered import Gathered, gathered
from sweeper.workers import Pool


@pytest.fixture(scope="session")
def pool() -> Iterator[Pool]:
    with Pool(1) as one:
        yield one


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return heard_runs.made_run(tmp_path_factory.mktemp("heard"))


@pytest.fixture(scope="session")
def ready(run: Path, pool: Pool) -> Gathered:
    return gathered(run, (), (), pool)


@pytest.fixture
def page(tmp_path: Path) -> Path:
    return heard_runs.page(tmp_path / "page")
