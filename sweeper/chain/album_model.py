"""An album file as frozen values: which variants make the record, in which order, and what lies between them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.chain.model import Mark
from sweeper.chain.print_model import Edits, PrintSpec

#: Between two tracks where nothing else is said; what compact discs begin a track with (common practice, no source).
GAP_S = 2.0


@dataclass(frozen=True)
class Track:
    """One track. run: the folder of its run; written: as in the file.

    variant: its number, "" = the one that was picked to keep. mix: of a run with several mixes the one whose pick is
    meant, by number or file; "" = its only one. title, artist, isrc: "" = as the run's chain file has it.
    gap_s: the silence behind it; None = the album's. level_db: a gain on the whole track. edits: None = as the run's
    chain file has it.
    """

    run: Path
    written: str
    mark: Mark
    variant: str = ""
    mix: str = ""
    title: str = ""
    artist: str = ""
    isrc: str = ""
    gap_s: float | None = None
    level_db: float = 0.0
    edits: Edits | None = None


@dataclass(frozen=True)
class Album:
    """A whole album file. path: where it was read; text: its content, verbatim.

    to: what is printed of every track, something without loss among it. pattern: of file names, None = our own.
    gaps_in_files: the silence between tracks is part of their files.
    """

    path: Path
    text: str
    title: str
    artist: str
    to: tuple[PrintSpec, ...]
    pattern: str | None
    gap_s: float
    gaps_in_files: bool
    tracks: tuple[Track, ...]

    def gap_after_s(self, number: int) -> float:
        """The silence behind a track, counted from 0; none behind the last."""
        own = self.tracks[number].gap_s
        if number == len(self.tracks) - 1:
            return 0.0
        return self.gap_s if own is None else own
