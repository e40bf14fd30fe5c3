"""Steps in the store by what they gave, whoever asks: what was rendered by a plugin that is not there any more too."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from sweeper.errors import StoreDamaged
from sweeper.render.store.contents import entries
from sweeper.render.store.entry import described, open_entry
from sweeper.render.store.place import json_path


def steps_that_gave(folder: Path, marks: Collection[str]) -> dict[str, Path]:
    """Marks, as sheets hold them -> the file of a step that gave that; those that the store does not hold are left out.

    Every sample of those found is checked. Changes nothing; what is damaged, or leaves while it is looked at, is not
    there.
    """
    found: dict[str, Path] = {}
    wanted = {each: each.encode("ascii") for each in marks}
    try:
        keys = sorted(entries(folder)) if folder.is_dir() and wanted else []
    except OSError:  # no store that can be read: it holds nothing
        return {}
    for key in keys:
        try:
            content = json_path(folder, key).read_bytes()
            told = next((each for each, word in wanted.items() if each not in found and word in content), None)
            if told is None:
                continue
            stages = described(folder, key).stages
            if stages and stages[-1].gave and stages[-1].gave[0].marks == told:
                found[told] = open_entry(folder, key).file.path
        except (OSError, StoreDamaged):  # another process may have let it go in this very moment
            continue
    return found
