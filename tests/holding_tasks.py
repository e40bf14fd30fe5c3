"""What workers do for the tests of plugins that only one process may have."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

from plugin_fixtures import stage

from sweeper.audio.format import AudioFormat
from sweeper.host.stage import HostedStage
from sweeper.workers import Report


@dataclass(frozen=True)
class Stay:
    """Load a plugin and keep it for a while."""

    path: str
    instances: int
    seconds: float


def stay(order: Stay, report: Report) -> tuple[float, float]:
    """When the plugin was there and when it was let go, on the system's clock."""
    setup = replace(stage(order.path), instances=order.instances)
    hosted = HostedStage(setup, AudioFormat(2, 44100), 1024, report.beat)
    began = time.time()
    time.sleep(order.seconds)
    assert hosted.instances
    return began, time.time()
