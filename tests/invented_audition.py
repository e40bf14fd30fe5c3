"""An invented run to listen to: synthesised sounds, and the manifest that tells a page of them. No run made it."""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from pyloudnorm import IIRfilter

LENGTH_S = 6.0
CAUTION = "Mind your ears and speakers: start with the monitors turned down."
QUANTITIES = (
    ("loudness_lufs", "loudness", "LUFS"), ("true_peak_dbtp", "true peak", "dBTP"), ("crest_db", "crest", "dB"),
    ("psr_db", "PSR", "dB"),
)  # fmt: skip


@dataclass(frozen=True)
class Invented:
    """One sound. samples: (channels, frames)."""

    id: str
    kind: str
    name: str
    samples: np.ndarray
    offset_frames: int = 0
    of: str | None = None


def music(seed: int, rate_hz: int, length_s: float = LENGTH_S) -> np.ndarray:
    """Something with notes, beats and width: (2, frames), peak 0.5; the same for the same seed."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    notes = sum(
        0.2 * np.sin(2 * np.pi * hz * t + rng.uniform(0, 6)) * (0.6 + 0.4 * np.sin(2 * np.pi * t / 2.7 + k))
        for k, hz in enumerate((110, 164.8, 220, 277.2, 329.6))
    )
    beats = np.exp(-((t % 0.5) / 0.06)) * rng.standard_normal(t.size) * 0.3
    sides = rng.standard_normal(t.size) * 0.02
    both = np.stack([notes + beats + sides, notes + beats - sides])
    return (both * 0.5 / np.abs(both).max()).astype(np.float32)


def driven(samples: np.ndarray, drive_db: float, top: float = 0.9) -> np.ndarray:
    """The mix driven into a soft ceiling: louder, denser, in step with it to the sample."""
    return (top * np.tanh(samples * 10 ** (drive_db / 20) / top)).astype(np.float32)


def power_100ms(samples: np.ndarray, rate_hz: int) -> np.ndarray:
    """K-weighted mean square of every whole 100 ms, channels summed, by the filters of pyloudnorm."""
    weighted = np.asarray(samples, float)
    for stage in (
        IIRfilter(4.0, 1 / np.sqrt(2), 1500.0, rate_hz, "high_shelf"),
        IIRfilter(0.0, 0.5, 38.0, rate_hz, "high_pass"),
    ):
        weighted = np.stack([stage.apply_filter(channel) for channel in weighted])
    cell = rate_hz // 10
    whole = weighted[:, : weighted.shape[1] // cell * cell].reshape(weighted.shape[0], -1, cell)
    return np.mean(whole**2, axis=2).sum(axis=0)


def loudness_lufs(power: np.ndarray) -> float:
    """Integrated, both gates (BS.1770-5 Annex 1), of 100 ms powers."""
    blocks = np.convolve(power, np.full(4, 0.25), "valid")
    level = -0.691 + 10 * np.log10(np.maximum(blocks, 1e-30))
    blocks = blocks[level > -70]
    gate = -0.691 + 10 * math.log10(blocks.mean()) - 10
    return -0.691 + 10 * math.log10(blocks[-0.691 + 10 * np.log10(blocks) > gate].mean())


def usual(rate_hz: int = 44100, length_s: float = LENGTH_S) -> list[Invented]:
    """A mix, six variants of it, a reference that begins late in its file, and a preview."""
    mix = music(1, rate_hz, length_s)
    variants = [
        Invented(f"{n:03d}", "variant", f"{n:03d}", driven(mix, drive_db))
        for n, drive_db in ((4, 3), (7, 6), (9, 9), (12, 12), (15, 4.5), (21, 7.5))
    ]
    record = driven(music(2, rate_hz, length_s + 2), 8)
    return [
        Invented("mix", "mix", "untouched mix", mix), *variants,
        Invented("reference-1", "reference", "a-record.wav", record, offset_frames=rate_hz),
        Invented("004-mp3", "preview", "004 as MP3", np.round(variants[0].samples, 3).astype(np.float32), of="004"),
    ]  # fmt: skip


def sound_entry(sound: Invented, rate_hz: int, matched_lufs: float, mix: np.ndarray) -> dict[str, Any]:
    """The manifest's entry of one sound, without `audio`."""
    power = power_100ms(sound.samples, rate_hz)
    lufs = loudness_lufs(power)
    peak_db = 20 * math.log10(float(np.abs(sound.samples).max()))
    columns = np.array_split(sound.samples, 300, axis=1)
    short = [
        None if k < 4 else round(-0.691 + 10 * math.log10(power[max(0, k * 5 - 30) : k * 5 + 1].mean()), 2)
        for k in range(power.size // 5)
    ]
    preview = (
        {"codec": "mp3", "bitrate_kbps": 192, "overshoot_dbtp": 0.31, "service": None}
        if sound.kind == "preview"
        else None
    )
    variant = sound.kind == "variant"
    goal = {"text": "loudness -14 LUFS", "met": sound.id != "009", "off": f"{lufs + 14:+.2f} LU"}
    limit = {"text": "true peak <= -1 dBTP", "kept": peak_db <= -1, "margin": f"{-1 - peak_db:+.2f} dB"}
    thirds = [None, *(round(2 * math.sin(k / 4 + sum(map(ord, sound.id))), 2) for k in range(1, 31))]
    return {
        "id": sound.id, "kind": sound.kind, "name": sound.name, "of": sound.of,
        "settings": [["limiter drive", f"{int(sound.id)} dB"]] if variant else [],
        "rank": int(sound.id) // 3 if variant else None, "front": sound.id in ("004", "012"),
        "why": "the best by crest" if sound.id == "004" else None, "kept": variant,
        "match_gain_db": matched_lufs - lufs, "true_peak_dbtp": peak_db, "loudness_lufs": lufs,
        "channels": sound.samples.shape[0], "frames": sound.samples.shape[1], "offset_frames": sound.offset_frames,
        "measurements": {"loudness_lufs": lufs, "true_peak_dbtp": peak_db, "crest_db": peak_db - lufs, "psr_db": None},
        "reasons": {"psr_db": "shorter than the windows that it takes"},
        "targets": [goal] if variant else [],
        "limits": [limit] if variant else [],
        "short_term": {"step_s": 0.5, "lufs": short},
        "power_100ms": [float(f"{p:.6g}") for p in power],
        "waveform": {
            "columns": 300, "low": [round(float(c.min()), 4) for c in columns],
            "high": [round(float(c.max()), 4) for c in columns],
        },
        "overs_s": [1.25, 3.1] if sound.id == "012" else [],
        "attenuation": {"step_s": 0.25, "db": [round(abs(3 * math.sin(k)), 2) for k in range(24)]} if variant else None,
        "thirds_difference_db": thirds if variant else None,
        "preview": preview,
    }  # fmt: skip


def manifest(
    sounds: Sequence[Invented], rate_hz: int, mode: str, run: str = "2026-11-24-lantern-bay"
) -> dict[str, Any]:
    """The whole manifest; sounds without `audio`, which is the mode's."""
    powers = {sound.id: loudness_lufs(power_100ms(sound.samples, rate_hz)) for sound in sounds}
    matched = min(powers[sound.id] for sound in sounds if sound.kind in ("mix", "variant"))
    mix = next(sound for sound in sounds if sound.kind == "mix").samples
    entries = [sound_entry(sound, rate_hz, matched, mix) for sound in sounds]
    every = [
        {"mix": 1, "kept": True} | {key: e[key] for key in ("id", "front", "rank", "measurements")}
        for e in entries if e["kind"] == "variant"
    ]  # fmt: skip
    lost = [
        {"id": f"{n:03d}", "mix": 1, "kept": False, "front": False, "rank": n,
         "measurements": {"loudness_lufs": -14 + n / 50, "crest_db": 15 - n / 8}}
        for n in range(30, 45)
    ]  # fmt: skip
    sections = [{"name": "verse 1", "from_s": 0.5, "to_s": 2.0}, {"name": "last chorus", "from_s": 3.0, "to_s": 5.0}]
    first = {"number": 1, "name": "lantern-bay.wav", "rate_hz": rate_hz, "frames": mix.shape[1], "sections": sections}
    return {
        "schema": 1, "title": "Lantern Bay, first pass", "run": run, "made": "2026-11-24T12:00:00Z", "mode": mode,
        "notes_file_name": "lantern-bay.picks.json", "caution": CAUTION,
        "mixes": [{**first, "sounds": entries}],
        "scatter": {"x": "loudness_lufs", "y": "crest_db"}, "all": every + lost,
        "quantities": [{"key": key, "name": name, "unit": unit} for key, name, unit in QUANTITIES],
    }  # fmt: skip


def write_served(sounds: Sequence[Invented], rate_hz: int, folder: Path) -> dict[str, Any]:
    """Writes a 32-bit float WAV for each sound; returns the manifest that names them as served."""
    told = manifest(sounds, rate_hz, "served")
    (folder / "audio").mkdir(parents=True)
    for sound, entry in zip(sounds, told["mixes"][0]["sounds"], strict=True):
        path = folder / "audio" / sound.id
        sf.write(path, sound.samples.T, rate_hz, format="WAV", subtype="FLOAT")
        entry["audio"] = {
            "url": f"audio/{sound.id}",
            "data_offset": path.read_bytes().index(b"data") + 8,
            "format": "f32",
        }
    return told


def write_exported(sounds: Sequence[Invented], rate_hz: int, folder: Path, chunk_frames: int = 50000) -> dict[str, Any]:
    """Writes the chunk scripts of each sound, 24 bits; returns the manifest that names them."""
    told = manifest(sounds, rate_hz, "exported")
    (folder / "audio").mkdir(parents=True)
    for sound, entry in zip(sounds, told["mixes"][0]["sounds"], strict=True):
        chunks = []
        for number, start in enumerate(range(0, sound.samples.shape[1], chunk_frames)):
            name = f"audio/{sound.id}-{number:03d}.js"
            text = base64.b64encode(s24(sound.samples[:, start : start + chunk_frames])).decode()
            (folder / name).write_text(f'auditionChunk({json.dumps(sound.id)}, {number}, "{text}");\n')
            chunks.append(name)
        entry["audio"] = {"chunk_frames": chunk_frames, "chunks": chunks, "format": "s24"}
    return told


def rounded_to_24_bits(samples: np.ndarray) -> np.ndarray:
    """What 24 bits keep of the samples, as float32 again."""
    return (np.clip(np.round(samples.astype(float) * 2**23), -(2**23), 2**23 - 1) / 2**23).astype(np.float32)


def s24(samples: np.ndarray) -> bytes:
    """Interleaved, little-endian, three bytes a sample."""
    whole = np.round(rounded_to_24_bits(samples).T.astype(float) * 2**23).astype("<i4")
    return np.ascontiguousarray(whole).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()


def with_sounds(told: dict[str, Any], sounds: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The manifest with other sounds in its first mix."""
    return {**told, "mixes": [{**told["mixes"][0], "sounds": list(sounds)}]}


def quieter(sound: Invented, gain_db: float) -> Invented:
    """The same sound at another level."""
    return replace(sound, samples=(sound.samples * 10 ** (gain_db / 20)).astype(np.float32))
