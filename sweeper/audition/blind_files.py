"""WAV files for the engineer's own player and monitor controller: aligned, equally loud, under names that tell nothing.

Nothing but the sound differs: length, size, dates and metadata are those of all. The untouched mix is among them, in
the spirit of the hidden reference of ITU-R BS.1116-3 and BS.1534-3 (section 4 of either, from memory).
"""

from __future__ import annotations

import json
import os
import random
import secrets
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import ascii_uppercase

import numpy as np

from sweeper.audio import BroadcastTag, WavWriter, blocks, inspect
from sweeper.audio.placing import place_text, refuse_taken, unwritable
from sweeper.audition.codecs import of_length
from sweeper.audition.gathered import Gathered, Ready, ReadyMix
from sweeper.audition.heard import Kind
from sweeper.meter.grid import Samples
from sweeper.render.folder import slug
from sweeper.render.orders import FILE_BLOCK_FRAMES
from sweeper.units import gain

KEY_ENDING = ".key.json"


@dataclass(frozen=True)
class BlindFile:
    """One file. name: in the folder. id: of the sound. gain_db: what is in it."""

    name: str
    id: str
    what: str
    gain_db: float


@dataclass(frozen=True)
class Written:
    """What was written. key: the file that says which is which, beside the folder. bytes: of all the sound."""

    folder: Path
    key: Path
    files: tuple[BlindFile, ...]
    seed: int
    bytes: int


def write_blind(ready: Gathered, folder: Path, seed: int | None = None) -> Written:
    """Write a new folder, and the key beside it. seed: of the shuffle; None = one by chance, which the key has.

    References, which are other music, keep their names. Raises RunFolderError when the folder or the key is there, or
    the disk refuses; then nothing of it is left.
    """
    key = folder.with_name(f"{folder.name}{KEY_ENDING}")
    for path in (folder, key):
        refuse_taken(path, "name a folder that is not there yet")
    seed = secrets.randbelow(2**32) if seed is None else seed
    chance = random.Random(seed)
    part = folder.with_name(f".{folder.name}.part")
    files: list[BlindFile] = []
    try:
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir(parents=True)
        for mix in ready.mixes:
            place = f"{mix.heard.number}-{slug(Path(mix.heard.name).stem)}/" if len(ready.mixes) > 1 else ""
            (part / place).mkdir(exist_ok=True)
            files += _of_mix(mix, part, place, chance)
        size = _made_alike(part)
        place_text(key, _key_text(ready, folder, seed, files), "name a folder that is not there yet")
        part.rename(folder)
    except OSError as exc:
        key.unlink(missing_ok=True)
        raise unwritable(folder, exc) from exc
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return Written(folder, key, tuple(files), seed, size)


def letters(count: int) -> list[str]:
    """A, B ... Z, AA, AB ..."""
    names, more = list(ascii_uppercase), list(ascii_uppercase)
    while len(names) < count:
        more = [one + letter for one in more for letter in ascii_uppercase]
        names += more
    return names[:count]


def _of_mix(mix: ReadyMix, part: Path, place: str, chance: random.Random) -> list[BlindFile]:
    hidden = sorted((one for one in mix.sounds if one.found.kind is not Kind.REFERENCE), key=lambda s: s.found.id)
    chance.shuffle(hidden)
    names = letters(len(hidden))
    named = [(name, one) for name, one in zip(names, hidden, strict=True)]
    named += [(f"reference {n}", one) for n, one in enumerate(_references(mix.sounds), 1)]
    longest = max(one.look.frames for one in hidden)
    found = []
    for name, one in named:
        blind = one.found.kind is not Kind.REFERENCE
        target = f"{place}{name}.wav"
        _write(one, part / target, longest if blind else one.look.frames, _channels(hidden) if blind else 0)
        found.append(BlindFile(target, one.found.id, one.found.name, round(one.gain_db, 4)))
    return found


def _references(sounds: Sequence[Ready]) -> list[Ready]:
    return [one for one in sounds if one.found.kind is Kind.REFERENCE]


def _channels(sounds: Sequence[Ready]) -> int:
    return max(one.look.channels for one in sounds)


def _write(one: Ready, target: Path, frames: int, channels: int) -> None:
    """channels: a mono sound among stereo ones is put on both; 0 = as it is."""
    file, factor = inspect(one.file), np.float32(gain(one.gain_db))
    count = channels or file.format.channels
    with WavWriter(target, count, file.format.rate_hz, lasting=False) as writer:
        for block in of_length(_on(blocks(file, FILE_BLOCK_FRAMES), count), frames, count):
            writer.write(block * factor)
        writer.commit(BroadcastTag("", "", ""))


def _on(stream: Iterator[Samples], channels: int) -> Iterator[Samples]:
    return (np.repeat(block, channels // len(block), axis=0) for block in stream)


def _made_alike(part: Path) -> int:
    """Give every file one date, so that none tells when it was written; returns their bytes."""
    files = list(part.rglob("*.wav"))
    when = max(file.stat().st_mtime for file in files)
    for file in files:
        os.utime(file, (when, when))
    return sum(file.stat().st_size for file in files)


def _key_text(ready: Gathered, folder: Path, seed: int, files: Sequence[BlindFile]) -> str:
    told = [{"file": one.name, "id": one.id, "what": one.what, "match_gain_db": one.gain_db} for one in files]
    data = {"schema": 1, "folder": folder.name, "run": ready.heard.identity, "seed": seed,
            "matched_over": list(ready.matched_over), "files": told}  # fmt: skip
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
