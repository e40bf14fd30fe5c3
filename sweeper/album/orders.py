"""What a worker is asked to join into one continuous proof, and what it gives back; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import Word
from sweeper.audio.labels import Labels
from sweeper.quantities import Measurements


@dataclass(frozen=True)
class Piece:
    """One printed track. audio_sha256: of its decoded samples. sound: frames of it that are music; what follows in the
    file is silence. gap: frames of silence that the proof adds. name: of the marker at its start.
    """

    file: Path
    audio_sha256: str
    sound: int
    gap: int
    name: str


@dataclass(frozen=True)
class ProofOrder:
    """Join the pieces. target: the file to write; word: what a sample in it is. date, time: for its tag."""

    pieces: tuple[Piece, ...]
    target: Path
    word: Word
    labels: Labels
    date: str
    time: str


@dataclass(frozen=True)
class Proof:
    """The joined file as it was found after it was written. starts: of each piece, in frames.

    measurements: of the whole, with the sections of `edges`. sha256: of the file; audio_sha256: of its samples.
    """

    target: Path
    sha256: str
    audio_sha256: str
    frames: int
    rate_hz: int
    starts: tuple[int, ...]
    measurements: Measurements
