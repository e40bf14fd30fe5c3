"""Sound to a device, or the time it would take; the device is a stand-in: test machines have none."""

from __future__ import annotations

import time
from types import SimpleNamespace
from typing import ClassVar

import numpy as np
import pytest

from sweeper.host import speakers
from sweeper.host.speakers import Speakers

BLOCK = np.ones((2, 1024), np.float32)


class FakeStream:
    """Remembers what is written; raises `fault` once `takes` blocks are in."""

    default_output_device_name = "Monitors"
    runs_at_hz = 48000.0
    takes = 10**9
    opened: ClassVar[list] = []

    def __init__(self, **options):
        self.options, self.sample_rate, self.written, self.open = options, self.runs_at_hz, [], False
        FakeStream.opened.append(self)

    def __enter__(self):
        self.open = True
        return self

    def __exit__(self, *ending):
        self.open = False

    def write(self, block, rate_hz):
        if len(self.written) >= self.takes:
            raise RuntimeError("unplugged")
        self.written.append((block, rate_hz))


class FakeResampler:
    """Doubles every frame."""

    def __init__(self, source_hz, target_hz, channels):
        assert (source_hz, target_hz, channels) == (48000, 96000.0, 2)

    def process(self, block):
        return block.repeat(2, axis=1)


@pytest.fixture
def device(monkeypatch):
    kind = type("Stream", (FakeStream,), {})
    FakeStream.opened = []
    monkeypatch.setattr(speakers, "io", SimpleNamespace(AudioStream=kind, StreamResampler=FakeResampler))
    return kind


def test_every_block_goes_to_the_device(device):
    with Speakers(2, 48000) as out:
        assert (out.name, out.trouble) == ("Monitors", "")
        for _ in range(3):
            out.play(BLOCK)
        (stream,) = FakeStream.opened
        assert stream.open
    assert not stream.open
    assert [(block.shape, rate_hz) for block, rate_hz in stream.written] == [((2, 1024), 48000.0)] * 3
    assert stream.options["num_output_channels"] == 2


def test_a_device_at_another_rate_gets_the_sound_at_its_own(device):
    device.runs_at_hz = 96000.0
    with Speakers(2, 48000) as out:
        out.play(BLOCK)
    assert [(block.shape, rate_hz) for block, rate_hz in FakeStream.opened[0].written] == [((2, 2048), 96000.0)]


def test_a_device_that_goes_away_is_told_and_the_time_goes_on(device):
    device.takes = 1
    with Speakers(2, 48000) as out:
        for _ in range(3):
            out.play(BLOCK)
    assert (out.name, out.trouble) == ("", "Monitors cannot be used: unplugged")


@pytest.mark.parametrize("name", [None, ""])
def test_without_a_device_it_takes_as_long_as_it_sounds(device, name):
    """At least: a busy machine may take longer. Real time is what meters in the window need."""
    device.default_output_device_name = name
    with Speakers(2, 48000) as out:
        began = time.monotonic()
        for _ in range(20):
            out.play(BLOCK)
        assert time.monotonic() - began >= 19 * 1024 / 48000
    assert (out.name, out.trouble, FakeStream.opened) == ("", "", [])
