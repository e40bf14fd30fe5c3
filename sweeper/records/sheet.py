"""The recall sheet: everything that made one rendered file."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

SHEET_NAME = "recall.json"
#: Counts the changes of ours that alter a rendered bit; they are listed in DEVELOPERS.md.
SOUND_VERSION = 1


@dataclass(frozen=True)
class Applied:
    """A setting as it stood after it was set and read back.

    side: the instance ("left", "mid", ...), "" for the only one. asked: as the chain file or the solver
    wrote it. raw: the position read back, 0.0 to 1.0. text: what the plugin shows there.
    """

    name: str
    index: int
    side: str
    asked: str
    raw: float
    text: str


@dataclass(frozen=True)
class Source:
    """The mix. audio_sha256: of the decoded samples, so that a renamed or re-wrapped file is known again."""

    file: str
    audio_sha256: str
    channels: int
    rate_hz: int
    frames: int


@dataclass(frozen=True)
class StageRecord:
    """One stage as it was. path, program_sha256: the plugin's file and the hash of its code ("" built in).

    settings: those that the chain file or the solver made; standing: every other control as it stood.
    latency_frames: as reported after the render. Trims in dB.
    """

    name: str
    plugin: str
    path: str
    maker: str
    version: str
    identifier: str
    program_sha256: str
    state_file: str
    state_sha256: str
    channels: str
    bypass: bool
    input_trim_db: float
    output_trim_db: float
    latency_frames: int
    settings: tuple[Applied, ...]
    standing: tuple[Applied, ...]


@dataclass(frozen=True)
class Sheet:
    """One rendered file's sheet. id: also in the file's own metadata. audio_sha256: of its samples."""

    id: str
    title: str
    variant: str
    source: Source
    stages: tuple[StageRecord, ...]
    block_frames: int
    audio_sha256: str
    measurements: Mapping[str, object]
    reach: Mapping[str, object] | None
    notes: tuple[str, ...]
    versions: Mapping[str, str]

    def as_data(self) -> dict[str, object]:
        """The sheet for JSON."""
        return {"schema": 1, "sound_version": SOUND_VERSION, **dataclasses.asdict(self)}
