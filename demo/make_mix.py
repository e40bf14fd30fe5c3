"""Makes the demo's mix, a WAV of 48 kHz and 24 bit as it would come to mastering.

    python demo/make_mix.py OUT.wav [--seed N]

The seed draws the key, the phrases sung, the timing and force of every hit, and all noise. One seed gives the
same bytes on one machine, always; on another processor or numpy version a sample may differ by 1 LSB.
"""

from __future__ import annotations

import argparse
import sys
import wave
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import song
import sounds
from song import ARTIST, FRAMES, RATE_HZ, SECTIONS, STEP_FRAMES, TITLE, TONIC_MIDI, Chord, Note, Part
from sounds import Dice, Sound, gain

__all__ = ["ARTIST", "DEFAULT_SEED", "SECTIONS", "TITLE", "made_mix", "main", "write_wav"]

DEFAULT_SEED = 1911
PEAK_DBFS = -6.0
DRUMS = ("kick", "snare", "hats")
#: Level of each part of the band in the mix, dB, and how much of it goes to the room, dB.
LEVELS_DB = {"kick": -5.0, "snare": -7.0, "hats": -14.0, "bass": -11.0, "pads": -18.0,
             "bells": -23.0, "voice": -7.0, "choir": -10.0, "sibilants": -12.0}  # fmt: skip
ROOM_DB = {"snare": -14.0, "hats": -20.0, "pads": -16.0, "bells": -8.0, "voice": -15.0, "choir": -9.0,
           "sibilants": -17.0}  # fmt: skip
ENERGY_DB = (-9.0, -5.0, -1.5, 0.0)  # how hard the band plays: intro, verse, chorus, last chorus
VELOCITY_DB = {"x": 0.0, "o": -8.0, "O": -2.0}


def _bars() -> Iterator[tuple[int, int, Part, Chord]]:
    """Every bar: its first frame, its number within its part, the part, and the chord."""
    for part, start in zip(song.PARTS, song.START_BARS, strict=True):
        for number, chord in enumerate(part.chords):
            yield (start + number) * song.BAR_FRAMES, number, part, chord


def _put(track: Sound, sound: Sound, start: int, level_db: float, pan: float = 0.0) -> None:
    """Add a sound to a stereo track at a frame. pan: -1 left to +1 right. What runs over the end is cut."""
    start = max(start, 0)
    room = min(sound.shape[-1], track.shape[1] - start)
    if sound.ndim == 2:
        track[:, start : start + room] += gain(level_db) * sound[:, :room]
        return
    angle = (pan + 1) * np.pi / 4
    for side, share in enumerate((np.cos(angle), np.sin(angle))):
        track[side, start : start + room] += gain(level_db) * share * sound[:room]


def _track() -> Sound:
    return np.zeros((2, FRAMES))


def _hit(piece: str, mark: str, dice: Dice) -> Sound:
    if piece == "hats":
        return sounds.hat(dice, 0.18 if mark == "O" else 0.035)
    return sounds.kick(dice) if piece == "kick" else sounds.snare(dice)


def _drum(seed: int, stream: int, piece: str) -> Sound:
    """The kick, the snare or the hats from start to end; no two hits alike."""
    dice, track = Dice(seed, stream), _track()
    for frame, number, part, _ in _bars():
        pattern = {"kick": part.kick, "snare": part.snare, "hats": part.hats}[piece]
        for step, mark in enumerate(pattern):
            if mark == "." or (part.name == "ending" and number == part.bars - 1):
                continue
            sound = _hit(piece, mark, dice)
            late = round(dice.between(-0.003, 0.005) * RATE_HZ)
            level_db = ENERGY_DB[part.energy] * 0.6 + VELOCITY_DB[mark] + dice.between(-1.2, 0.6)
            _put(track, sound, frame + step * STEP_FRAMES + late, level_db, 0.35 if piece == "hats" else 0.0)
        if piece == "hats" and number in (0, 4) and part.energy >= 2:
            _put(track, sounds.hat(dice, 1.1), frame, 3.0, -0.4)
    return track


def _bass(seed: int, key: int) -> Sound:
    dice, track = Dice(seed, 4), _track()
    rhythms = {0: ((0, 15),), 1: ((0, 6), (6, 2), (8, 7)), 2: tuple((s, 2) for s in range(0, 16, 2))}
    for frame, _, part, chord in _bars():
        for step, steps in rhythms[min(part.energy, 2)]:
            midi = TONIC_MIDI + key + chord.bass + (12 if chord.bass < -17 else 0)
            note = sounds.bass(midi, steps * STEP_FRAMES / RATE_HZ * dice.between(0.88, 0.97))
            level_db = ENERGY_DB[part.energy] * 0.7 + dice.between(-1.0, 1.0)
            _put(track, note, frame + step * STEP_FRAMES + round(dice.between(0, 0.004) * RATE_HZ), level_db)
    return track


def _pads(seed: int, key: int) -> Sound:
    """Chords a little longer than their bar; the last chorus adds the octave above."""
    dice, track = Dice(seed, 5), _track()
    for frame, _, part, chord in _bars():
        notes = tuple(TONIC_MIDI + key + note for note in chord.notes)
        _put(track, sounds.pad(notes, 2.85, dice), frame - 2_400, ENERGY_DB[part.energy] * 0.7)
        if part.energy == 3:
            _put(track, sounds.pad(tuple(n + 12 for n in notes[1:]), 2.85, dice), frame - 2_400, -7.0)
    return track


def _bells(seed: int, key: int) -> Sound:
    """A broken chord in eighths, left and right by turns."""
    dice, track = Dice(seed, 6), _track()
    for frame, _, part, chord in _bars():
        for count, step in enumerate(range(0, 16, 2 if part.energy != 1 else 4)):
            midi = TONIC_MIDI + key + 12 + chord.notes[(count * 3 + dice.one_of(2)) % len(chord.notes)]
            late = round(dice.between(0, 0.006) * RATE_HZ)
            level_db = dice.between(-5.0, 0.0) + (4.0 if part.energy == 0 else 0.0)
            pan = 0.7 if count % 2 else -0.7
            _put(track, sounds.bell(midi, 0.9), frame + step * STEP_FRAMES + late, level_db, pan)
    return track


@dataclass(frozen=True)
class Singer:
    """Where a singer stands and how loud. track, consonants: the stereo tracks recorded to."""

    track: Sound
    consonants: Sound
    level_db: float
    pan: float


def _sing(singer: Singer, note: Note, frame: int, midi: float, dice: Dice) -> None:
    """One syllable of a bar that starts at a frame: its consonant ends where the vowel begins."""
    start = frame + note.start_step * STEP_FRAMES + round(dice.between(0.0, 0.012) * RATE_HZ)
    vowel = sounds.sung(midi, note.steps * STEP_FRAMES / RATE_HZ * 0.96, note.syllable[-1], dice)
    _put(singer.track, vowel, start, singer.level_db, singer.pan)
    if note.syllable.startswith("s"):
        hiss = sounds.sibilant(dice, dark=note.syllable.startswith("sh"))
        level_db = singer.level_db + dice.between(-2.0, 2.0)
        _put(singer.consonants, hiss, start - round(0.7 * len(hiss)), level_db, singer.pan)
    elif note.syllable.startswith("t"):
        _put(singer.consonants, sounds.hat(dice, 0.012), start - 400, singer.level_db, singer.pan)


def _voices(seed: int, key: int) -> dict[str, Sound]:
    """The lead, its doubles in the choruses (a third up in the last one), and their consonants."""
    dice, voice, choir, sibilants = Dice(seed, 7), _track(), _track(), _track()
    for frame, number, part, _ in _bars():
        phrases = part.melody[number]
        lead = Singer(voice, sibilants, ENERGY_DB[part.energy] * 0.5, 0.0)
        doubles = [Singer(choir, sibilants, -6.0, pan) for pan in (-0.8, 0.8)] if part.energy >= 2 else []
        for note in song.notes_of(phrases[dice.one_of(len(phrases))]):
            midi = TONIC_MIDI + key + 12 + note.semitones
            _sing(lead, note, frame, midi, dice)
            third = _third_above(note.semitones) if part.energy == 3 else 0
            for double in doubles:
                _sing(double, note, frame, midi + third, dice)
    return {"voice": voice, "choir": choir, "sibilants": sibilants}


def _third_above(semitones: int) -> int:
    """How far the third above lies within the major key, semitones."""
    return 4 if semitones % 12 in (0, 5, 7) else 3


def _rumble(seed: int) -> Sound:
    """Traffic under the room's floor: noise under 25 Hz, the same on both sides but for a little."""
    dice = Dice(seed, 8)
    noise = np.stack([dice.noise(FRAMES)] * 2) + 0.2 * np.stack([dice.noise(FRAMES), dice.noise(FRAMES)])
    low = sounds.band(noise, 9.0, 22.0)
    return np.asarray(low * (gain(-35.0) / np.sqrt(np.mean(low**2))))


def _rounded(sound: Sound, from_db: float, ceiling_db: float) -> Sound:
    """The sound with its peaks rounded off as tape does: untouched below one level, never above the other."""
    start, rest = gain(from_db), gain(ceiling_db) - gain(from_db)
    rounded, loud = sound.copy(), np.abs(sound) > start
    peaks = sound[loud]
    rounded[loud] = np.sign(peaks) * (start + rest * np.tanh((np.abs(peaks) - start) / rest))
    return rounded


def _band(seed: int, key: int) -> Iterator[tuple[str, Sound]]:
    """Every piece of the band by name, one at a time: ten of them at once would need a gigabyte."""
    for stream, piece in enumerate(DRUMS, start=1):
        yield piece, _drum(seed, stream, piece)
    yield "bass", _bass(seed, key)
    yield "pads", _pads(seed, key)
    yield "bells", _bells(seed, key)
    yield from _voices(seed, key).items()


def made_mix(seed: int) -> Sound:
    """The mix of a seed. Shape (2, frames), 48 kHz, its highest sample at -6 dBFS."""
    key = Dice(seed, 0).one_of(5) - 2
    send, music, drums = _track(), _track(), _track()
    for piece, track in _band(seed, key):
        track *= gain(LEVELS_DB[piece])
        bus = drums if piece in DRUMS else music
        bus += track
        if piece in ROOM_DB:
            track *= gain(ROOM_DB[piece])
            send += track
    mix = sounds.lift(music, 300.0, 4.5, 1.1)  # the mud of small loudspeakers and a small room
    mix += _rounded(drums, -12.0, -5.0)
    mix += sounds.room(send, Dice(seed, 9))
    mix += _rumble(seed)
    mix *= np.minimum(1.0, np.arange(FRAMES, 0, -1) / (1.5 * RATE_HZ))  # the last chord fades
    mix = _rounded(mix, -2.0, 2.0)  # the mix bus
    return np.asarray(mix * (gain(PEAK_DBFS) / np.max(np.abs(mix))))


def write_wav(path: Path, mix: Sound) -> None:
    """Write (2, frames) as 24-bit WAV, rounded to the nearest step."""
    steps = np.rint(mix * 2.0**23).astype("<i4")
    packed = np.ascontiguousarray(steps.T).view(np.uint8).reshape(-1, 4)[:, :3]
    with wave.open(str(path), "wb") as out:
        out.setnchannels(2)
        out.setsampwidth(3)
        out.setframerate(RATE_HZ)
        out.writeframes(packed.tobytes())


def main(arguments: list[str]) -> int:
    """The command line; returns the exit code."""
    parser = argparse.ArgumentParser(description=f'Make the demo\'s mix, "{TITLE}" by {ARTIST}.')
    parser.add_argument("out", type=Path, metavar="OUT.wav")
    parser.add_argument("--seed", type=int, default=DEFAULT_SEED, help=f"0 or more; default {DEFAULT_SEED}")
    chosen = parser.parse_args(arguments)
    if chosen.seed < 0:
        parser.error(f"--seed {chosen.seed} is below 0: use 0 or more")
    write_wav(chosen.out, made_mix(chosen.seed))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
