"""An invented run's page on a server of its own, for as long as a block lasts."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from invented_audition import Invented, write_served

from sweeper.audition.assembled import assembled
from sweeper.audition.notebook import Notebook
from sweeper.audition.server import Offered, Served

RATE_HZ = 44100


class Serving:
    """Serves a manifest's page and the files of its sounds. address: what to open. notebook: its picks."""

    def __init__(self, folder: Path, told: Mapping[str, Any], files: Mapping[str, Path]) -> None:
        self.manifest = told
        self.notebook = Notebook(folder, told["run"])
        self._served = Served(Offered(assembled(told), files, self.notebook))
        self.address = self._served.address

    def __enter__(self) -> Serving:
        self._served.__enter__()
        self._thread = threading.Thread(target=self._served.run, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._served.stop()
        self._thread.join(10)
        self._served.__exit__()


class Site(Serving):
    """Serves invented sounds, which are written into the folder."""

    def __init__(self, folder: Path, sounds: Sequence[Invented], rate_hz: int = RATE_HZ) -> None:
        self.folder = folder
        told = write_served(sounds, rate_hz, folder)
        super().__init__(folder, told, {sound.id: folder / "audio" / sound.id for sound in sounds})
