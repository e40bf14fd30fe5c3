"""A gathered run as a server offers it: the page with its manifest, and the sound files by id."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sweeper.audition.assembled import PAGE, assembled
from sweeper.audition.gathered import PLACE, Gathered, Ready
from sweeper.audition.manifest import manifest
from sweeper.audition.notebook import Notebook
from sweeper.audition.server import Offered


def offered(ready: Gathered, previews: Mapping[str, Mapping[str, object]] = {}, page: Path = PAGE) -> Offered:
    """What to serve of it. previews: what is told of a preview, by its id. page: the folder of the page's parts."""
    data = manifest(ready, "served", served_audio, previews=previews)
    notebook = Notebook(ready.heard.run.path.absolute() / PLACE, ready.heard.identity)
    notebook.read()  # what cannot be read is told before a page is opened
    return Offered(assembled(data, page), {sound.found.id: sound.file for sound in ready.sounds}, notebook)


def served_audio(sound: Ready) -> dict[str, object]:
    """Where the page gets a sound: by Range requests, the samples behind the header."""
    return {"url": f"audio/{sound.found.id}", "data_offset": sound.look.data_offset, "format": "f32"}
