"""Every installed plugin loaded once, each in a process of its own, and remembered. Loads nothing here."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterator, Sequence

from sweeper.host.bundle import Installed, program_of
from sweeper.host.place import joined
from sweeper.host.remembered import is_unchanged, program_now, remember, remembered
from sweeper.host.tried import Loads, Program, Quarantined, Tried
from sweeper.workers import Cause, Done, Failed, Pool, Task

_CAUSES = {Cause.CRASHED: "crashed", Cause.ENDED: "ended", Cause.HUNG: "hung", Cause.MEMORY: "memory",
           Cause.ERROR: "refused"}  # fmt: skip
#: What a terminal would take as a colour (ECMA-48, SGR).
_COLOURS = re.compile(r"\x1b\[[0-9;]*m")
_REMEDY = "open it once in another host: it may want to be authorised; or update it"


def to_be_loaded(plugins: Sequence[Installed], again: bool) -> tuple[Installed, ...]:
    """Of the plugins that can be loaded here, those that never were, or that have changed since. again: all of them."""
    known = {} if again else remembered()
    return tuple(
        plugin for plugin in plugins
        if not plugin.fault
        and not (str(plugin.path) in known and is_unchanged(known[str(plugin.path)].program, program_of(plugin.path)))
    )  # fmt: skip


def load_all(plugins: Sequence[Installed], workers: int, patience_s: float,
             watch: Callable[[dict[str, object]], None]) -> Iterator[tuple[Installed, Tried]]:  # fmt: skip
    """Load every one of `plugins`; each with what came of it, as it comes, after it was remembered.

    A process loads one plugin only, so that no fault is laid at another's door. watch: gets the workers' events. Raises
    StoreError when what is found cannot be remembered.
    """
    trial = _Trial(plugins, patience_s)
    with Pool(workers, watch, renew_after=1) as pool:
        for outcome in pool.run(trial.tasks()):
            if (finished := trial.take(outcome)) is not None:
                remember({str(finished[0].path): finished[1]})
                yield finished


class _Trial:
    """What is still to be loaded, and what came of each file so far. A task's key is the plugin's place."""

    def __init__(self, plugins: Sequence[Installed], patience_s: float) -> None:
        self._patience_s = patience_s
        self._queue: deque[str] = deque()
        self._file: dict[str, Installed] = {}
        self._inner: dict[str, str] = {}
        self._program: dict[Installed, Program] = {}
        self._open: dict[Installed, int] = {}
        self._came: dict[Installed, list[Loads | Quarantined]] = {plugin: [] for plugin in plugins}
        for plugin in plugins:
            self._add(plugin, plugin.names if plugin.names_told and len(plugin.names) > 1 else ("",))

    def _add(self, plugin: Installed, names: Sequence[str]) -> None:
        self._open[plugin] = self._open.get(plugin, 0) + len(names)
        for inner in names:
            place = joined(str(plugin.path), inner)
            self._file[place], self._inner[place] = plugin, inner
            self._queue.append(place)

    def tasks(self) -> Iterator[Task | None]:
        """A task a plugin. None while only what is under way can tell whether there are more in a file."""
        while self._queue or any(self._open.values()):
            if not self._queue:
                yield None
                continue
            place = self._queue.popleft()
            plugin = self._file[place]
            if plugin not in self._program:
                self._program[plugin] = program_now(program_of(plugin.path))
            yield Task(place, "sweeper.host.trying:try_plugin", (place, self._patience_s), place)

    def take(self, outcome: Done | Failed) -> tuple[Installed, Tried] | None:
        """Note an outcome; the file with all that came of it, once it is the last of it."""
        plugin = self._file[outcome.key]
        self._open[plugin] -= 1
        if isinstance(outcome, Failed):
            self._came[plugin].append(_quarantined(outcome, self._inner[outcome.key]))
        elif isinstance(outcome.value, Loads):
            self._came[plugin].append(outcome.value)
        else:
            assert isinstance(outcome.value, tuple)
            self._add(plugin, outcome.value)
        if self._open[plugin]:
            return None
        came = self._came[plugin]
        loads = tuple(one for one in came if isinstance(one, Loads))
        return plugin, Tried(self._program[plugin], loads, tuple(one for one in came if isinstance(one, Quarantined)))


def _quarantined(failed: Failed, inner: str) -> Quarantined:
    what, remedy = failed.what, _REMEDY
    if failed.error is not None:
        what = getattr(failed.error, "what", str(failed.error))
        remedy = getattr(failed.error, "remedy", _REMEDY)
    said = _COLOURS.sub("", failed.said[-1]) if failed.said else ""
    return Quarantined(inner, _CAUSES[failed.cause], what, remedy, said)
