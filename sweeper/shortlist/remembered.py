"""What comparing found, in the run's log: sound that was not kept cannot be compared a second time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sweeper.render.folder import LOG_NAME, RunFolder
from sweeper.render.matched_null import MatchedNull
from sweeper.shortlist.apart import Plugins, plugins_of
from sweeper.shortlist.contender import Contender
from sweeper.workers import Failed

COMPARED, ONCE_MORE = "compared", "rendered once more"
Log = Callable[[dict[str, object]], None]


def log_compared(log: Log, one: Contender, other: Contender, null: MatchedNull | Failed) -> None:
    """Keep a null test, by the hashes of both sounds; or why there is none."""
    variants = [one.id, other.id]
    if isinstance(null, Failed):
        log({"event": "not compared", "variants": variants, "what": null.what, "said": null.said})
    else:
        log({"event": COMPARED, "variants": variants, "sounds": [one.sound, other.sound], **null.as_data()})


def log_once_more(log: Log, one: Contender, null: MatchedNull | Failed | None) -> None:
    """Keep what a second render of a variant showed, by the plugins of its chain; or why it showed nothing."""
    if isinstance(null, Failed):
        log({"event": "not rendered once more", "variant": one.id, "what": null.what, "said": null.said})
    elif null is not None:
        plugins = [list(each) for each in plugins_of(one.stages)]
        log({"event": ONCE_MORE, "variant": one.id, "plugins": plugins, **null.as_data()})


def remembered(run: Path) -> tuple[dict[frozenset[str], MatchedNull], dict[Plugins, MatchedNull]]:
    """The null tests by the hashes of both sounds, and what second renders showed, by plugins."""
    nulls: dict[frozenset[str], MatchedNull] = {}
    again: dict[Plugins, MatchedNull] = {}
    if not (run / LOG_NAME).is_file():
        return nulls, again
    folder = RunFolder(run)
    for line in folder.logged(COMPARED):
        sounds = line.get("sounds")
        if isinstance(sounds, list) and all(sounds):
            nulls[frozenset(map(str, sounds))] = MatchedNull.from_data(line)
    for line in folder.logged(ONCE_MORE):
        plugins = line.get("plugins")
        if isinstance(plugins, list):
            again[tuple((str(a), str(b), str(c)) for a, b, c in plugins)] = MatchedNull.from_data(line)
    return nulls, again
