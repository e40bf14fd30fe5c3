"""What workers do for the tests of plugins that only one process may have."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, replace
from pathlib import Path

from plugin_fixtures import stage

from sweeper.audio.format import AudioFormat
from sweeper.host.stage import HostedStage
from sweeper.workers import Report


@dataclass(frozen=True)
class Stay:
    """Load a plugin and keep it for a while; in the end wait until `others` stays have begun too, 20 s at most.

    marks: the folder in which each stay says that it has begun.
    """

    path: str
    instances: int
    seconds: float
    marks: Path
    others: int = 0


def stay(order: Stay, report: Report) -> tuple[float, float]:
    """When the plugin was there and when it was let go, on the system's clock."""
    setup = replace(stage(order.path), instances=order.instances)
    hosted = HostedStage(setup, AudioFormat(2, 44100), 1024, report.beat)
    began = time.time()
    (order.marks / f"{os.getpid()}").touch()
    time.sleep(order.seconds)
    while len(list(order.marks.iterdir())) <= order.others and time.time() < began + 20:
        time.sleep(0.02)
    assert hosted.instances
    return began, time.time()
