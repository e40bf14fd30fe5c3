"""Pictures of test signals, and their SVG read back."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np

from sweeper import meter
from sweeper.audio import AudioFormat, SoundFile
from sweeper.meter import curves, envelope
from sweeper.pictures import COLUMNS, Subject

SVG = "{http://www.w3.org/2000/svg}"


def subject(samples, rate_hz=48000, sections=None, target_lufs=None, name="mix.wav", full_scale=1.0):
    """What a picture of those samples, (channels, frames), is drawn from.

    sections: name -> frame ranges; the first three are measured.
    """
    format = AudioFormat(len(samples), rate_hz, full_scale)
    panel = meter.advance(meter.start(format, dict(list((sections or {}).items())[:3])), samples)
    outline = envelope.advance(envelope.start(format, samples.shape[1], COLUMNS), samples)
    file = SoundFile(Path("somewhere") / name, format, samples.shape[1], "WAV", "PCM_24")
    seen = curves.finish(outline, panel.whole.loudness, panel.whole.thirds)
    return Subject(file, meter.finish(panel), seen, sections or {}, target_lufs)


def hour_long(short, powers):
    """The subject with its file made to last an hour at 8 kHz, its momentary and short-term curves given."""
    frames = 3600 * 8000
    whole = replace(short.curves, momentary_powers=powers, short_term_powers=powers[:35971],
                    histogram=curves.histogram(powers), envelope=_wide(short.curves.envelope))  # fmt: skip
    return replace(short, file=replace(short.file, frames=frames, format=AudioFormat(1, 8000)), curves=whole)


def _wide(envelope):
    drawn = np.random.default_rng(1).uniform(0.0, 1.0, (2, 1, COLUMNS))
    return replace(envelope, frames=3600 * 8000, lows=-drawn[0], highs=drawn[1], overs=np.ones(COLUMNS, np.int64))


def parsed(text):
    """The picture as a tree; fails where it is no XML."""
    return ET.fromstring(text)


def part(tree, name):
    """The group of that name."""
    return next(group for group in tree.iter(f"{SVG}g") if group.get("id") == name)


def words(tree):
    """Every text that is seen, in order."""
    return [text.text or "" for text in tree.iter(f"{SVG}text")]


def points(polyline):
    """The points of a polyline, px."""
    return [tuple(map(float, pair.split(","))) for pair in polyline.get("points").split()]
