"""A folder that opens from disk: the page, and the sound in pieces that a page from disk may load."""

from __future__ import annotations

import base64
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweeper.audio import blocks, inspect
from sweeper.audio.placing import refuse_taken, unwritable
from sweeper.audition.assembled import assembled
from sweeper.audition.gathered import Gathered, Ready
from sweeper.audition.manifest import manifest
from sweeper.meter.grid import Doubles, Samples
from sweeper.units import level_db

#: A page from disk may not ask for parts of a file: it loads scripts, one of so many seconds at a time.
CHUNK_S = 5.0
#: Steps of a 24-bit word; rounded to the nearest, no dither: the error lies 140 dB down.
STEPS = 2**23
PAGE_NAME, AUDIO_PLACE = "audition.html", "audio"


@dataclass(frozen=True)
class Exported:
    """A folder that was written. bytes: what it takes on the disk."""

    page: Path
    bytes: int


def export(ready: Gathered, folder: Path, with_settings: bool = False, page: Path | None = None) -> Exported:
    """Write the page and its sound into a new folder.

    with_settings: tell settings and stages too; without, nothing in it tells what made a variant. Raises
    RunFolderError when the folder is there, or the disk refuses; then nothing of it is left.
    """
    refuse_taken(folder, "name a folder that is not there yet")
    part = folder.with_name(f".{folder.name}.part")
    chunked: dict[str, dict[str, object]] = {}
    try:
        shutil.rmtree(part, ignore_errors=True)
        (part / AUDIO_PLACE).mkdir(parents=True)
        for number, sound in enumerate(ready.sounds):
            chunked[sound.found.id] = _written(sound, part / AUDIO_PLACE, number)
        data = manifest(ready, "exported", lambda sound: chunked[sound.found.id], with_settings)
        (part / PAGE_NAME).write_text(assembled(data, page), encoding="utf-8")
        size = sum(file.stat().st_size for file in part.rglob("*") if file.is_file())
        part.rename(folder)
    except OSError as exc:
        raise unwritable(folder, exc) from exc
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return Exported(folder / PAGE_NAME, size)


def _written(sound: Ready, place: Path, number: int) -> dict[str, object]:
    """Write a sound's pieces; says where they are. gain_db: what the page has to turn them up by, above full scale."""
    file = inspect(sound.file)
    peak = max(max(sound.look.high, default=0.0), -min(sound.look.low, default=0.0))
    scale = max(1.0, peak * (STEPS / (STEPS - 1)) * 1.001)
    frames = round(CHUNK_S * file.format.rate_hz)
    names = []
    for at, block in enumerate(_pieces(sound.file, frames)):
        name = f"{sound.found.id}-{at:03d}.js"
        text = base64.b64encode(_s24(block / np.float64(scale))).decode("ascii")
        (place / name).write_text(f'auditionChunk("{sound.found.id}",{at},"{text}")\n', encoding="ascii")
        names.append(f"{AUDIO_PLACE}/{name}")
    return {"chunk_frames": frames, "chunks": names, "format": "s24", "gain_db": level_db(scale)}


def _pieces(path: Path, frames: int) -> Iterator[Samples]:
    yield from blocks(inspect(path), frames)


def _s24(block: Doubles) -> bytes:
    """Interleaved little-endian 24-bit words of a block, (channels, frames), rounded to the nearest step."""
    steps = np.clip(np.round(block * STEPS), -STEPS, STEPS - 1).astype("<i4")
    words = np.ascontiguousarray(steps.T).view(np.uint8).reshape(-1, 4)
    return words[:, :3].tobytes()
