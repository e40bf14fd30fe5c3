"""An entry of the store: what its description says, and whether that is true."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweeper.audio import AudioFormat, BroadcastTag, SoundFile
from sweeper.audio.wav import SAMPLE_BYTES, header
from sweeper.errors import StoreDamaged
from sweeper.records import StageRecord
from sweeper.records.reading import read
from sweeper.render.store.place import json_path, wav_path

SCHEMA = 1
TAG = BroadcastTag("", "", "")
#: What a description may take, for reckoning beforehand: a thousand settings, and room.
DESCRIPTION_BYTES = 1 << 18
READ_BYTES = 1 << 20


@dataclass(frozen=True)
class Description:
    """What stands beside an entry's samples. sha256: of them, interleaved little-endian float32."""

    key: str
    frames: int
    channels: int
    rate_hz: int
    sha256: str
    stages: tuple[StageRecord, ...]
    notes: tuple[str, ...]
    plugin_s: float


@dataclass(frozen=True)
class Entry:
    """A stored step. stages, notes: of everything that made it. plugin_s: the plugins' time."""

    file: SoundFile
    stages: tuple[StageRecord, ...]
    notes: tuple[str, ...]
    plugin_s: float


def entry_bytes(frames: int, channels: int) -> int:
    """What an entry takes on the disk, reckoned beforehand, a little more than enough."""
    return len(header(channels, 48000, frames, TAG)) + frames * channels * SAMPLE_BYTES + DESCRIPTION_BYTES


def as_bytes(description: Description) -> bytes:
    """The description as JSON with its own checksum. Raises ValueError for values that are no numbers."""
    data: dict[str, object] = {"schema": SCHEMA, **dataclasses.asdict(description)}
    return _dumped({**data, "check": hashlib.sha256(_dumped(data)).hexdigest()})


def described(folder: Path, key: str) -> Description:
    """What stands beside an entry. Raises StoreDamaged when it is missing, altered, or of another schema."""
    try:
        content = json_path(folder, key).read_bytes()
    except OSError as error:
        raise _unreadable(key, error) from error
    try:
        data: Any = json.loads(content)
        if _dumped(data) != content:
            raise StoreDamaged(key, "has an altered description")
        check, schema = data.pop("check"), data.pop("schema")
        if schema != SCHEMA or check != hashlib.sha256(_dumped({"schema": schema, **data})).hexdigest():
            raise StoreDamaged(key, "has an altered description, or one from another version")
        stages = tuple(read(StageRecord, stage) for stage in data.pop("stages"))
        found = Description(**{**data, "stages": stages, "notes": tuple(data.pop("notes"))})
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise StoreDamaged(key, "has a description that cannot be read") from error
    if found.key != key:
        raise StoreDamaged(key, "has the description of another")
    return found


def whole(folder: Path, key: str) -> bool:
    """Whether the description is sound and the file of samples as long as it says; looks at no sample."""
    try:
        description = described(folder, key)
        return wav_path(folder, key).stat().st_size == _wav_bytes(description)
    except (StoreDamaged, OSError):  # absent or damaged: not whole, which is the answer
        return False


def open_entry(folder: Path, key: str) -> Entry:
    """The entry under `key`, after every byte of it was checked. Changes nothing in the store.

    Raises StoreDamaged when it is missing, cut short or altered.
    """
    description = described(folder, key)
    path = wav_path(folder, key)
    try:
        _check_samples(path, description)
    except OSError as error:
        raise _unreadable(key, error) from error
    head = _header(description)
    container = "RF64" if head.startswith(b"RF64") else "WAV"
    format = AudioFormat(description.channels, description.rate_hz)
    file = SoundFile(path, format, description.frames, container, "FLOAT")
    return Entry(file, description.stages, description.notes, description.plugin_s)


def _check_samples(path: Path, description: Description) -> None:
    head, size = _header(description), path.stat().st_size
    if size != _wav_bytes(description):
        raise StoreDamaged(description.key, f"is {size} bytes long, not {_wav_bytes(description)}")
    digest, room = hashlib.sha256(), memoryview(bytearray(READ_BYTES))
    with path.open("rb", buffering=0) as handle:
        if handle.read(len(head)) != head:
            raise StoreDamaged(description.key, "has an altered header")
        while count := handle.readinto(room):
            digest.update(room[:count])
    if digest.hexdigest() != description.sha256:
        raise StoreDamaged(description.key, "has altered samples")


def _header(description: Description) -> bytes:
    return header(description.channels, description.rate_hz, description.frames, TAG)


def _wav_bytes(description: Description) -> int:
    return len(_header(description)) + description.frames * description.channels * SAMPLE_BYTES


def _dumped(data: Mapping[str, object]) -> bytes:
    return (json.dumps(data, allow_nan=False, ensure_ascii=True) + "\n").encode("ascii")


def _unreadable(key: str, error: OSError) -> StoreDamaged:
    missing = isinstance(error, FileNotFoundError)
    return StoreDamaged(key, "is not there" if missing else f"cannot be read ({error.strerror or error})")
