"""One plugin described by a worker, for the parent. Loads nothing here."""

from __future__ import annotations

from pathlib import Path

from sweeper.errors import PluginError
from sweeper.host.catalogue import find
from sweeper.host.described import Plugin
from sweeper.workers import Failed, Pool, Task, value_of

_BLOCK_FRAMES = 1024


def described(name: str, folder: Path, patience_s: float) -> Plugin:
    """Load the plugin that `name` means in a child process and describe it.

    folder: what a relative path is relative to. Raises PluginMissing, or PluginError with what ended the child.
    """
    path = find(name, folder)
    task = Task("describe", "sweeper.host.tasks:describe_plugin", (path, _BLOCK_FRAMES, patience_s), path)
    with Pool(1) as pool:
        (outcome,) = pool.map_in_order([task])
    return value_of(outcome, Plugin, lambda failed: _ended(path, failed))


def _ended(path: str, failed: Failed) -> Exception:
    said = f"; it last said: {failed.said[-1]}" if failed.said else ""
    return failed.error or PluginError(f"{path} {failed.what}{said}",
                                       "open it once in another host: it may want to be authorised")  # fmt: skip
