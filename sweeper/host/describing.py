"""One plugin described by a worker, for the parent. Loads nothing here."""

from __future__ import annotations

from pathlib import Path

from sweeper.errors import PluginError
from sweeper.host.catalogue import find
from sweeper.host.described import Plugin
from sweeper.workers import Cause, Failed, Pool, Task

_BLOCK_FRAMES = 1024


def described(name: str, folder: Path, patience_s: float) -> Plugin:
    """Load the plugin that `name` means in a child process and describe it.

    folder: what a relative path is relative to. Raises PluginMissing, or PluginError with what ended the child.
    """
    path = find(name, folder)
    task = Task("describe", "sweeper.host.tasks:describe_plugin", (path, _BLOCK_FRAMES, patience_s), path)
    with Pool(1) as pool:
        (outcome,) = pool.map_in_order([task])
    if isinstance(outcome, Failed):
        if outcome.cause is Cause.ERROR and outcome.error is not None:
            raise outcome.error
        said = f"; it last said: {outcome.said[-1]}" if outcome.said else ""
        raise PluginError(f"{path} {outcome.what}{said}",
                          "open it once in another host: it may want to be authorised")  # fmt: skip
    assert isinstance(outcome.value, Plugin)
    return outcome.value
