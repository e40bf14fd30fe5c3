"""What workers are asked to print, and what they give back; plain values that travel between processes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.audio.labels import Labels
from sweeper.chain.print_model import Edits, PrintSpec
from sweeper.delivery.dither import SEED
from sweeper.delivery.edits import Cut
from sweeper.quantities import Measurements


@dataclass(frozen=True)
class PrintOrder:
    """Print a render. audio_sha256: of its samples, as its sheet has it. level_db: the gain that was asked for.

    gain_db: the trim that was found to be needed beside it. target: the file to write. date, time: for its tag.
    seed: of the dither.
    """

    render: Path
    audio_sha256: str
    spec: PrintSpec
    edits: Edits
    target: Path
    labels: Labels
    date: str
    time: str
    level_db: float = 0.0
    gain_db: float = 0.0
    seed: int = SEED


@dataclass(frozen=True)
class Ahead:
    """What comes out before words are made: after rate conversion, trims and fades.

    true_peak_dbtp: None = silence. sample_peak: amplitude. source: the render's format; source_frames: its length.
    bits: the word that the render's samples need, None = they lie on no grid. cut: at the print's rate.
    """

    true_peak_dbtp: float | None
    sample_peak: float
    source: AudioFormat
    source_frames: int
    rate_hz: int
    bits: int | None
    cut: Cut


@dataclass(frozen=True)
class Coded:
    """A lossy file decoded again, against what its encoder got.

    delay_frames: how much later it is; None where it cannot be found again. left_db: what coding changed, RMS against
    the sound, on the loudest two seconds, aligned; None with no delay. kbps: what the file comes to.
    fed_true_peak_dbtp, fed_frames: of what the encoder got.
    """

    delay_frames: float | None
    left_db: float | None
    kbps: float
    fed_true_peak_dbtp: float | None
    fed_frames: int


@dataclass(frozen=True)
class Printed:
    """A file as it was found after it was written. sha256: of the file; audio_sha256: of its decoded samples.

    clipped: samples that no word could hold. frames, rate_hz, channels: read from it, as are the measurements.
    identical: its samples are those of the render. coded: of a lossy file.
    """

    target: Path
    sha256: str
    audio_sha256: str
    bytes: int
    frames: int
    format: AudioFormat
    encoding: str
    measurements: Measurements
    clipped: int
    identical: bool
    coded: Coded | None
