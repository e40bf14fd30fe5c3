"""The pictures of a report, as what an image in HTML takes: nothing is loaded from elsewhere."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sweeper.audio import inspect
from sweeper.errors import AudioFileError, RunFolderError
from sweeper.pictures import COLUMNS, Subject, picture
from sweeper.render.plotting import PlotOrder, plotted
from sweeper.table.row import Row
from sweeper.table.written import WrittenRun
from sweeper.workers import Pool


def pictures_of(run: WrittenRun, rows: Sequence[Row], pool: Pool) -> list[dict[str, str]]:
    """Each variant, and the mixes that are still there, one picture each. Raises AudioFileError for a render."""
    files = [(f"variant {row.id}", run.path / row.files["render"]) for row in rows]
    files += [(Path(mix.file).name, Path(mix.file)) for mix in run.mixes if _is_there(Path(mix.file))]
    orders = [PlotOrder(path, {}, COLUMNS) for _, path in files]
    found = []
    for (name, _), one in zip(files, plotted(orders, pool), strict=True):
        named = replace(one.measured.file, path=Path(name))
        found.append({"name": name, "image": image(picture(Subject(named, one.measured.measurements, one.curves)))})
    return found


def effects_image(run: WrittenRun) -> str:
    """What each varied setting did, as an image; "" where nothing was varied that can be told."""
    from sweeper.pictures.effects import effects_picture
    from sweeper.table.effects import effects
    from sweeper.table.effects.drawn import drawn

    try:
        return image(effects_picture(drawn(effects(run))))
    except RunFolderError:  # one variant, or none that differ: there is nothing to draw
        return ""


def image(svg: str) -> str:
    """An SVG as a data URI; texts and ids in it stay its own."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode('utf-8')).decode('ascii')}"


def _is_there(path: Path) -> bool:
    try:
        inspect(path)
    except AudioFileError:  # moved since: the report does without its picture
        return False
    return True
