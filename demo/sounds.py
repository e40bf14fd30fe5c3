"""The demo's instruments: each function makes one sound. Mono unless it says stereo, float64, 48 kHz."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import signal
from song import RATE_HZ, pitch_hz

Sound = npt.NDArray[np.float64]

TABLE_FRAMES = 4096
#: Vowel formants, Hz, and their levels, dB: rounded from memory of common tables for an alto voice.
FORMANTS = {
    "a": ((800, 0.0), (1150, -3.0), (2800, -8.0), (3700, -12.0)),
    "e": ((420, 0.0), (1650, -8.0), (2700, -10.0), (3500, -13.0)),
    "i": ((350, 0.0), (1800, -10.0), (2750, -10.0), (3700, -13.0)),
    "o": ((480, 0.0), (850, -5.0), (2800, -12.0), (3500, -16.0)),
    "u": ((340, 0.0), (750, -7.0), (2600, -14.0), (3500, -18.0)),
}


class Dice:
    """A stream of draws for one instrument. Raw PCG64 words: numpy promises that these never change."""

    def __init__(self, seed: int, stream: int) -> None:
        self._bits = np.random.PCG64(np.random.SeedSequence([seed, stream]))

    def uniform(self, frames: int) -> Sound:
        """Shape (frames,), each in [0, 1)."""
        return np.asarray(self._bits.random_raw(frames) >> np.uint64(11), dtype=np.float64) * 2.0**-53

    def noise(self, frames: int) -> Sound:
        """White noise, each frame in [-1, 1)."""
        return 2.0 * self.uniform(frames) - 1.0

    def between(self, low: float, high: float) -> float:
        return float(low + (high - low) * self.uniform(1)[0])

    def one_of(self, count: int) -> int:
        """A whole number from 0 to count - 1."""
        return int(self.uniform(1)[0] * count)


def gain(level_db: float) -> float:
    return float(10.0 ** (level_db / 20.0))


def seconds(frames: int) -> Sound:
    """The time of each frame, s."""
    return np.arange(frames) / RATE_HZ


def frames_of(time_s: float) -> int:
    return round(time_s * RATE_HZ)


def band(sound: Sound, low_hz: float, high_hz: float, order: int = 2) -> Sound:
    """What of the sound lies between two frequencies (Butterworth); along the last axis."""
    sos = signal.butter(order, (low_hz, high_hz), "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(signal.sosfilt(sos, sound, axis=-1))


def lift(sound: Sound, centre_hz: float, gain_db: float, q: float) -> Sound:
    """A peaking filter (the well-known cookbook form), along the last axis."""
    amplitude, angle = gain(gain_db / 2), 2 * np.pi * centre_hz / RATE_HZ
    alpha = np.sin(angle) / (2 * q)
    b = (1 + alpha * amplitude, -2 * np.cos(angle), 1 - alpha * amplitude)
    a = (1 + alpha / amplitude, -2 * np.cos(angle), 1 - alpha / amplitude)
    return np.asarray(signal.lfilter(b, a, sound, axis=-1))


def shaped(sound: Sound, attack_s: float, release_s: float) -> Sound:
    """The sound with a fade in and a fade out (raised cosine)."""
    shape = np.ones(len(sound))
    for time_s, reverse in ((attack_s, False), (release_s, True)):
        ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(min(frames_of(time_s), len(sound))) / frames_of(time_s))
        if reverse:
            shape[len(sound) - len(ramp) :] *= ramp[::-1]
        else:
            shape[: len(ramp)] *= ramp
    return sound * shape


def wave_table(harmonics: int, slope: float) -> Sound:
    """One cycle with harmonic k at 1 / k ** slope; its first frame comes again at the end."""
    phase = 2 * np.pi * np.arange(TABLE_FRAMES + 1) / TABLE_FRAMES
    cycle = np.zeros(TABLE_FRAMES + 1)
    for k in range(1, harmonics + 1):
        cycle += np.sin(k * phase) / k**slope
    return cycle


def played(table: Sound, pitch: Sound, start_turn: float) -> Sound:
    """The table read at a pitch (Hz, for each frame); start_turn: 0 to 1 of a cycle."""
    turns = start_turn + np.cumsum(pitch) / RATE_HZ
    place = (turns - np.floor(turns)) * TABLE_FRAMES
    index = place.astype(np.int64)
    before = table[index]
    return before + (table[index + 1] - before) * (place - index)


PAD_TABLE = wave_table(18, 1.15)
VOICE_TABLE = wave_table(28, 1.05)
BASS_TABLE = wave_table(9, 1.5)


def kick(dice: Dice) -> Sound:
    """A beater's click and a tone that falls to 50 Hz."""
    t = seconds(frames_of(0.42))
    pitch = 50.0 + 130.0 * np.exp(-t / 0.022)
    tone = np.sin(2 * np.pi * np.cumsum(pitch) / RATE_HZ) * np.exp(-t / 0.13)
    click = band(dice.noise(len(t)), 1500, 6000) * np.exp(-t / 0.004)
    return shaped(tone + 0.9 * click, 0.0004, 0.05)


def snare(dice: Dice) -> Sound:
    """Two shell tones and the wires' noise."""
    t = seconds(frames_of(0.35))
    shell = np.sin(2 * np.pi * 188 * t) * np.exp(-t / 0.07)
    shell += 0.5 * np.sin(2 * np.pi * 331 * t) * np.exp(-t / 0.04)
    wires = band(dice.noise(len(t)), 1400, 9500) * np.exp(-t / 0.085)
    crack = band(dice.noise(len(t)), 2500, 7000) * np.exp(-t / 0.006)
    return shaped(0.6 * shell + 1.0 * wires + 1.3 * crack, 0.0003, 0.06)


def hat(dice: Dice, ring_s: float) -> Sound:
    """A hi-hat; ring_s: 0.03 closed, 0.2 open, over 1 a crash cymbal."""
    t = seconds(frames_of(min(5 * ring_s, 3.0)))
    metal = sum(np.sin(2 * np.pi * hz * t + hz) for hz in (5_343, 6_797, 8_211, 9_557)) / 8
    hiss = band(dice.noise(len(t)), 6_500, 15_000) + metal * (0.2 if ring_s < 1 else 0.05)
    return shaped(hiss * np.exp(-t / ring_s), 0.0003, 0.01)


def bass(midi: float, length_s: float) -> Sound:
    """A plucked bass note."""
    t = seconds(frames_of(length_s))
    round_tone = np.sin(2 * np.pi * pitch_hz(midi) * t)
    bright = played(BASS_TABLE, np.full(len(t), pitch_hz(midi)), 0.0) * np.exp(-t / 0.25)
    return shaped((0.75 * round_tone + 0.55 * bright) * (0.45 + 0.55 * np.exp(-t / 0.5)), 0.006, 0.05)


def bell(midi: float, length_s: float) -> Sound:
    """A plucked bell: one sine bends another."""
    t = seconds(frames_of(length_s))
    turn = 2 * np.pi * pitch_hz(midi) * t
    tone = np.sin(turn + 1.6 * np.exp(-t / 0.12) * np.sin(3.0 * turn)) * np.exp(-t / 0.45)
    return shaped(tone, 0.002, 0.08)


def pad(notes: tuple[float, ...], length_s: float, dice: Dice) -> Sound:
    """A chord of detuned voices, stereo: left and right share no voice. notes: MIDI numbers."""
    frames = frames_of(length_s)
    sides = np.zeros((2, frames))
    drift = np.sin(2 * np.pi * 0.31 * seconds(frames))
    for midi in notes:
        for side in (0, 1):
            for cents in (-9.0, 5.0):
                detuned = midi + (cents + dice.between(-4.0, 4.0)) / 100
                pitch = pitch_hz(detuned) * (1 + 0.0012 * drift * (1 - 2 * side))
                sides[side] += played(PAD_TABLE, pitch, dice.between(0.0, 1.0))
    return np.stack([shaped(side, 0.25, 0.4) for side in sides]) / len(notes)


def sibilant(dice: Dice, dark: bool) -> Sound:
    """An "s" (5 to 9 kHz) or, dark, a "sh" (3 to 7 kHz)."""
    low_hz, high_hz = (3_000.0, 7_000.0) if dark else (5_000.0, 9_000.0)
    hiss = band(dice.noise(frames_of(dice.between(0.08, 0.13))), low_hz, high_hz, order=3)
    return shaped(hiss, 0.02, 0.03)


def sung(midi: float, length_s: float, vowel: str, dice: Dice) -> Sound:
    """A vowel on a note: a scoop up to pitch, late vibrato, some breath, four formants."""
    frames = frames_of(length_s)
    t = seconds(frames)
    vibrato = 0.28 * np.sin(2 * np.pi * dice.between(5.1, 5.8) * t) * np.clip((t - 0.2) / 0.4, 0, 1)
    semitones = vibrato - dice.between(0.6, 1.3) * np.exp(-t / 0.035) + dice.between(-0.06, 0.06)
    throat = played(VOICE_TABLE, pitch_hz(midi) * 2.0 ** (semitones / 12), 0.0) + 0.05 * dice.noise(frames)
    voice = np.zeros(frames)
    for centre_hz, level_db in FORMANTS[vowel]:
        b, a = signal.iirpeak(centre_hz, max(2.5, centre_hz / 140), fs=RATE_HZ)
        voice += gain(level_db) * np.asarray(signal.lfilter(b, a, throat))
    return shaped(voice * (1 - 0.25 * t / length_s), 0.035, 0.09)


def room(sound: Sound, dice: Dice) -> Sound:
    """The sound's reflections in a small room, stereo; sound: (2, frames). Fades 60 dB in 0.7 s."""
    t = seconds(frames_of(0.8))
    answers = np.stack([dice.noise(len(t)), dice.noise(len(t))]) * np.exp(-t * (6.91 / 0.7))
    answers = band(answers, 250, 6_500, order=1)
    answers[:, : frames_of(0.012)] = 0.0
    answers /= np.sqrt(np.sum(answers**2, axis=1, keepdims=True))
    return np.asarray(signal.oaconvolve(sound, answers, axes=-1))[:, : sound.shape[1]]
