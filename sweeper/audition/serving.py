"""A gathered run as a server offers it: the page with its manifest, and the sound files by id."""

from __future__ import annotations

from pathlib import Path

from sweeper.audition.assembled import assembled
from sweeper.audition.gathered import PLACE, Gathered, Ready
from sweeper.audition.manifest import manifest
from sweeper.audition.notebook import Notebook
from sweeper.audition.server import Offered


def offered(ready: Gathered, page: Path | None = None) -> Offered:
    """What to serve of it. page: the folder of the page's parts, None = our own.

    Raises RunFolderError when the notes that are there cannot be read.
    """
    data = manifest(ready, "served", served_audio)
    notebook = Notebook(ready.heard.run.path.absolute() / PLACE, ready.heard.identity)
    notebook.read()  # what cannot be read is told before a page is opened
    return Offered(assembled(data, page), {sound.found.id: sound.file for sound in ready.sounds}, notebook)


def served_audio(sound: Ready) -> dict[str, object]:
    """Where the page gets a sound: by Range requests, the samples behind the header."""
    return {"url": f"audio/{sound.found.id}", "data_offset": sound.look.data_offset, "format": "f32"}
