"""How fast the meters are, beside others on the same music in the same run. Prints JSON; nothing is asserted.

    python tests/bench/meters.py [--track FILE] [--minutes N] [--times N] [--rates HZ ...]

- ours: all meters of a run, every quantity of the table, in blocks of 32,768 frames; and without a compiler, which is
  what a machine without numba has. programme: only what the others measure, loudness and true peak.
- libebur128 (the system's, by ctypes): all modes, true peak, the momentary maximum looked at every 10 ms as ours is.
- libebur128, second line: the same with one look a second, which misses most momentary maxima.
- ffmpeg: its ebur128 filter with true peak, from raw singles, one thread; its start, about 0.1 s, is in it.
- pyloudnorm and scipy's fourfold resample_poly, on frames as soundfile gives them: what a plain script does.

Every round runs everybody once, in turn. The figures are medians of the rounds: seconds of the clock, seconds of the
processor (children's too; what else runs on the machine shows less in these), and how many times less of the
processor's ours take. Needs ffmpeg and libebur128 (Debian: libebur128-1).
"""

from __future__ import annotations

import argparse
import ctypes
import ctypes.util
import json
import os
import platform
import re
import resource
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pyloudnorm
from scipy import signal

from sweeper import meter
from sweeper.audio.format import AudioFormat
from sweeper.meter import compiled, loudness, true_peak

TRACK = Path("/usr/share/scummvm/drascula/audio/track2.ogg")
CHUNK_FRAMES = 32768
#: ebur128.h: M, I, S, LRA, SAMPLE_PEAK, TRUE_PEAK; each with what it builds on.
ALL_MODES = 1 | 1 << 2 | 1 << 1 | 1 << 3 | 1 << 4 | 1 << 5
Reading = tuple[float, float]  # integrated loudness and true peak, LUFS and dBTP


def music(track: Path, rate_hz: int, seconds: int, folder: Path) -> Path:
    """The track, over and over, as raw interleaved singles at a rate."""
    raw = folder / f"{rate_hz}.f32"
    subprocess.run(["ffmpeg", "-v", "error", "-stream_loop", "-1", "-i", track, "-t", str(seconds), "-ac", "2",
                    "-ar", str(rate_hz), "-f", "f32le", raw], check=True)  # fmt: skip
    return raw


def ours(samples: np.ndarray, rate_hz: int) -> Reading:
    """Every quantity."""
    values = meter.measure(samples, AudioFormat(2, rate_hz)).values
    return values["loudness_lufs"], values["true_peak_dbtp"]


def programme(samples: np.ndarray, rate_hz: int) -> Reading:
    """Loudness, its maxima and range, and true peak."""
    format = AudioFormat(2, rate_hz)
    loud, peak = loudness.start(format), true_peak.start(format)
    for at in range(0, samples.shape[1], CHUNK_FRAMES):
        block = samples[:, at : at + CHUNK_FRAMES]
        loud, peak = loudness.advance(loud, block), true_peak.advance(peak, block)
    return loudness.finish(loud)["loudness_lufs"].value, true_peak.finish(peak)["true_peak_dbtp"].value


@contextmanager
def without_compiler() -> Iterator[None]:
    """The meters with numpy alone."""
    made = compiled.made
    compiled.made = lambda loop, dtype: None
    try:
        yield
    finally:
        compiled.made = made


def plainly(measure: Callable[[np.ndarray, int], Reading], samples: np.ndarray, rate_hz: int) -> Reading:
    """A measurement with numpy alone."""
    with without_compiler():
        return measure(samples, rate_hz)


class Ebur128:
    """The system's libebur128."""

    def __init__(self) -> None:
        self.library = ctypes.CDLL(ctypes.util.find_library("ebur128") or "libebur128.so.1")
        self.library.ebur128_init.restype = ctypes.c_void_p
        self.library.ebur128_init.argtypes = [ctypes.c_uint, ctypes.c_ulong, ctypes.c_int]
        self.library.ebur128_add_frames_float.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t]

    def measure(self, frames: np.ndarray, rate_hz: int, looks_a_second: int) -> Reading:
        """frames: (frames, 2) interleaved singles."""
        state = ctypes.c_void_p(self.library.ebur128_init(2, rate_hz, ALL_MODES))
        out, most, step = ctypes.c_double(), -np.inf, rate_hz // looks_a_second
        for at in range(0, len(frames), step):
            self.library.ebur128_add_frames_float(state, frames[at:].ctypes.data, min(step, len(frames) - at))
            self.library.ebur128_loudness_momentary(state, ctypes.byref(out))
            most = max(most, out.value)
            if at % rate_hz == 0:
                self.library.ebur128_loudness_shortterm(state, ctypes.byref(out))
        self.library.ebur128_loudness_range(state, ctypes.byref(out))
        peaks = [self._peak(state, channel) for channel in range(2)]
        self.library.ebur128_loudness_global(state, ctypes.byref(out))
        self.library.ebur128_destroy(ctypes.byref(state))
        return out.value, 20.0 * float(np.log10(max(peaks)))

    def _peak(self, state: ctypes.c_void_p, channel: int) -> float:
        out = ctypes.c_double()
        self.library.ebur128_true_peak(state, ctypes.c_uint(channel), ctypes.byref(out))
        return out.value


def ffmpeg(raw: Path, rate_hz: int) -> Reading:
    """Its summary is read from what it prints."""
    said = subprocess.run(["ffmpeg", "-hide_banner", "-nostats", "-threads", "1", "-f", "f32le", "-ar", str(rate_hz),
                           "-ac", "2", "-i", raw, "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"],
                          capture_output=True, text=True, check=True).stderr  # fmt: skip
    loud, peak = re.search(r"I:\s+(-?[\d.]+) LUFS", said), re.search(r"Peak:\s+(-?[\d.]+) dBFS", said)
    return float(loud[1]), float(peak[1])


def script(frames: np.ndarray, rate_hz: int) -> Reading:
    """pyloudnorm and a polyphase resampler, (frames, 2)."""
    loud = pyloudnorm.Meter(rate_hz).integrated_loudness(frames)
    return loud, 20.0 * float(np.log10(np.abs(signal.resample_poly(frames, 4, 1, axis=0)).max()))


def bench(raw: Path, rate_hz: int, times: int) -> dict[str, object]:
    """Everybody in turn, so many rounds."""
    frames = np.fromfile(raw, np.float32).reshape(-1, 2)
    samples, other = np.ascontiguousarray(frames.T), Ebur128()
    entrants: dict[str, Callable[[], Reading]] = {
        "ours": lambda: ours(samples, rate_hz),
        "ours, programme": lambda: programme(samples, rate_hz),
        "ours without a compiler": lambda: plainly(ours, samples, rate_hz),
        "ours without a compiler, programme": lambda: plainly(programme, samples, rate_hz),
        "libebur128": lambda: other.measure(frames, rate_hz, 100),
        "libebur128, one look a second": lambda: other.measure(frames, rate_hz, 1),
        "ffmpeg": lambda: ffmpeg(raw, rate_hz),
        "pyloudnorm and resample_poly": lambda: script(frames, rate_hz),
    }
    programme(samples[:, : 4 * rate_hz], rate_hz)
    ours(samples[:, : 4 * rate_hz], rate_hz)  # compiles, or reads what is compiled
    wall_s: dict[str, list[float]] = {name: [] for name in entrants}
    processor_s: dict[str, list[float]] = {name: [] for name in entrants}
    read: dict[str, Reading] = {}
    for _ in range(times):
        for name, measure in entrants.items():
            began = time.perf_counter(), processor()
            read[name] = measure()
            wall_s[name].append(time.perf_counter() - began[0])
            processor_s[name].append(processor() - began[1])
    medians = {name: statistics.median(values) for name, values in processor_s.items()}
    return {
        "rate_hz": rate_hz,
        "audio_s": round(len(frames) / rate_hz, 1),
        "wall_s": {name: round(statistics.median(values), 4) for name, values in wall_s.items()},
        "processor_s": {name: round(value, 4) for name, value in medians.items()},
        "times_faster": {
            mine: {name: round(value / medians[mine], 2) for name, value in medians.items() if "ours" not in name}
            for mine in medians if "ours" in mine
        },
        "read_lufs_and_dbtp": {name: [round(value, 3) for value in values] for name, values in read.items()},
    }  # fmt: skip


def processor() -> float:
    """Seconds that this process and its finished children have had of the processor."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--track", type=Path, default=TRACK)
    parser.add_argument("--minutes", type=float, default=4.0)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--rates", type=int, nargs="+", default=[44100, 96000])
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        raws = {rate: music(given.track, rate, round(given.minutes * 60), Path(made)) for rate in given.rates}
        results = [bench(raw, rate, given.times) for rate, raw in raws.items()]
    compiler = compiled.made(compiled.weigh_two, np.dtype(np.float32)) is not None
    print(json.dumps({"track": given.track.name, "compiler": compiler, "processor": platform.processor(),
                      "load": os.getloadavg(), "results": results}, indent=1))  # fmt: skip


if __name__ == "__main__":
    main()
