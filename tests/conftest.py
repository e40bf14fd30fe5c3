"""What every test may ask for, and two rules: `--long` runs the long ones; a skipped test fails the whole."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

#: Name -> where Debian puts it, and the package that holds it.
MUSIC = {
    "track5": ("/usr/share/scummvm/drascula/audio/track5.ogg", "drascula-music"),
    "track27": ("/usr/share/scummvm/drascula/audio/track27.ogg", "drascula-music"),
    "Deprecation": ("/usr/share/games/singularity/music/Deprecation.ogg", "singularity-music"),
    "Enemy Unknown": ("/usr/share/games/singularity/music/Enemy Unknown.ogg", "singularity-music"),
    "Advanced Simulacra": ("/usr/share/games/singularity/music/Advanced Simulacra.ogg", "singularity-music"),
}


class NothingSkipped:
    """Fails a run in which any test was skipped or expected to fail: what is not tested must not look tested."""

    def __init__(self) -> None:
        self.untested: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.skipped or hasattr(report, "wasxfail"):
            self.untested.append(report.nodeid)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.skipped:
            self.untested.append(report.nodeid)

    @pytest.hookimpl(tryfirst=True)
    def pytest_sessionfinish(self, session: pytest.Session, exitstatus: int) -> None:
        if self.untested and exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        for name in self.untested:
            terminalreporter.write_line(f"FAILED {name}: skipped or expected to fail, which is not allowed", red=True)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run the tests marked long as well")


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(NothingSkipped())
    _keep_to_one_processor(os.environ.get("PYTEST_XDIST_WORKER", ""))
    # what is drawn is the same every time, but for --long, which looks further; no test is held to a time
    settings.register_profile("the same", derandomize=True, deadline=None)
    settings.register_profile("further", deadline=None)
    settings.load_profile("further" if config.getoption("--long") else "the same")


def _keep_to_one_processor(name: str) -> None:
    """One of tests that run side by side, "gw1", keeps to a processor, so that a run in it starts one worker.

    Each worker takes two seconds to start, and they would wait for each other. Runs with several ask for them.
    """
    if name and hasattr(os, "sched_setaffinity"):
        own = sorted(os.sched_getaffinity(0))
        os.sched_setaffinity(0, {own[int(name.removeprefix("gw")) % len(own)]})


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--long"):
        return
    long = [item for item in items if item.get_closest_marker("long")]
    config.hook.pytest_deselected(items=long)
    items[:] = [item for item in items if not item.get_closest_marker("long")]


@pytest.fixture(scope="session", autouse=True)
def _own_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Rendered steps go into a folder of the tests, not of whoever runs them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWEEPER_STORE", str(tmp_path_factory.mktemp("store")))
        yield


@pytest.fixture(scope="session")
def music() -> dict[str, Path]:
    """Real tracks by name, as Debian's packages hold them."""
    missing = {package for path, package in MUSIC.values() if not Path(path).is_file()}
    if missing:
        raise FileNotFoundError(f"real music is missing: apt-get install {' '.join(sorted(missing))}")
    return {name: Path(path) for name, (path, _) in MUSIC.items()}
