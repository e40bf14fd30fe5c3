"""Sound made in code, and the outside readers that the files are checked with."""

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest


def noise(channels, frames, seed=1):
    """White noise, float32, (channels, frames), peaks below 0.5."""
    return np.random.default_rng(seed).uniform(-0.5, 0.5, (channels, frames)).astype(np.float32)


def ffprobe(path: Path) -> dict:
    """What ffprobe, an independent reader, says of a file: container, stream and tags."""
    command = ["ffprobe", "-v", "error", "-show_format", "-show_streams", "-of", "json", f"file:{path}"]
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)


def ffmpeg_samples(path: Path, channels: int) -> np.ndarray:
    """The samples as ffmpeg decodes them, float32, (channels, frames)."""
    command = ["ffmpeg", "-v", "error", "-i", f"file:{path}", "-f", "f32le", "-"]
    raw = subprocess.run(command, check=True, capture_output=True).stdout
    return np.frombuffer(raw, "<f4").reshape(-1, channels).T


@pytest.fixture(name="noise")
def _noise():
    return noise


@pytest.fixture(name="ffprobe")
def _ffprobe():
    return ffprobe


@pytest.fixture(name="ffmpeg_samples")
def _ffmpeg_samples():
    return ffmpeg_samples
