"""How a run grows with the variants and with the length of the mix: time, memory, disk. Prints tables; nothing is
asserted.

    python tests/bench/growth.py [--variants 1 4 16] [--minutes 1 4] [--seconds 30] [--of 1] [--workers 2]

The first table: so many variants of the first --seconds of the track. The second: --of variants of a mix of so many
minutes, the track over and over. The chain is fast, so that the rest shows: shelf, compressor, saturator, limiter, all
built in, and a loudness reach by a trim. Each line is a run of its own with an empty store: seconds by the clock, and
those by variant and minute of mix; the most memory of any one worker and of the process that leads them (resident
set, looked at every 50 ms); the most disk that results and store took at any time, and at the end; what `check` had
foretold: seconds in the median, and disk. 60 minutes of 44.1 kHz stereo are 1.3 GB a file, and a variant has two.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import psutil
import soundfile

TRACK = Path("/usr/share/scummvm/drascula/audio/track5.ogg")
SWEEPER = (sys.executable, "-c", "from sweeper.cli.main import main; main()")
LOOK_S, DISK_EVERY = 0.05, 10
MEGABYTE = 1e6
CHAIN = """
title: bench
mix: mix.wav
inserts:
  - name: air
    plugin: builtin:HighShelfFilter
    settings: {cutoff frequency hz: 6000 Hz, q: 0.7}
  - name: glue
    plugin: builtin:Compressor
    settings: {threshold db: -20 dB, ratio: 1.5, attack ms: 20 ms}
  - {name: colour, plugin: "builtin:Distortion", settings: {drive db: 1 dB}}
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", settings: {true peak: off}, drive: raise input trim}
vary:
  air.gain db: [AIR]
  glue.ratio: [RATIOS]
  limiter.release ms: [RELEASES]
reach:
  - {loudness: -16 LUFS, within: 0.1 LU, by: limiter.drive}
"""


@dataclass
class Most:
    """The most that was seen, in bytes."""

    worker: int = 0
    leader: int = 0
    disk: int = 0


@dataclass
class Watch:
    """Looks at a process, its children and a folder until it is told to stop."""

    process: psutil.Process
    folder: Path
    most: Most = field(default_factory=Most)
    over: threading.Event = field(default_factory=threading.Event)

    def look(self) -> None:
        """Until `over` is set."""
        looks = 0
        while not self.over.wait(LOOK_S):
            self.most.leader = max(self.most.leader, resident(self.process))
            self.most.worker = max(self.most.worker, *map(resident, children(self.process)), 0)
            if looks % DISK_EVERY == 0:
                self.most.disk = max(self.most.disk, size(self.folder))
            looks += 1


def children(process: psutil.Process) -> list[psutil.Process]:
    """Those that live now."""
    try:
        return process.children(recursive=True)
    except psutil.NoSuchProcess:
        return []


def resident(process: psutil.Process) -> int:
    """Bytes; 0 for one that has gone."""
    try:
        return int(process.memory_info().rss)
    except psutil.NoSuchProcess:
        return 0


def size(folder: Path) -> int:
    """Bytes of all files that are there while it is looked through."""
    total = 0
    for place, _, names in os.walk(folder):
        for name in names:
            try:
                total += (Path(place) / name).stat().st_size
            except FileNotFoundError:
                continue
    return total


def chain_of(variants: int) -> str:
    """The chain with so many variants, a power of two, or of as many axes as fill it."""
    ways = [1, 1, 1]
    while ways[0] * ways[1] * ways[2] < variants:
        ways[ways.index(min(ways))] *= 2
    if ways[0] * ways[1] * ways[2] != variants:
        raise SystemExit(f"{variants} variants: only powers of two")
    lists = {
        "AIR": [f"{-1 + 0.5 * step:g} dB" for step in range(ways[0])],
        "RATIOS": [f"{1.5 + 0.5 * step:g}" for step in range(ways[1])],
        "RELEASES": [f"{50 + 50 * step:g} ms" for step in range(ways[2])],
    }
    text = CHAIN
    for name, values in lists.items():
        text = text.replace(f"[{name}]", f"[{', '.join(values)}]")
    return text


def write_mix(track: Path, seconds: float, target: Path) -> None:
    """So much of the track, over and over, 24 bits."""
    with soundfile.SoundFile(track) as source:
        rate_hz, channels = source.samplerate, source.channels
        left = round(seconds * rate_hz)
        with soundfile.SoundFile(target, "w", rate_hz, channels, "PCM_24", format="WAV") as mix:
            while left:
                if not len(block := source.read(min(left, 1 << 18), dtype="float32", always_2d=True)):
                    source.seek(0)
                mix.write(block)
                left -= len(block)


def line(track: Path, seconds: float, variants: int, workers: int) -> str:
    """One run in a folder of its own, which is gone afterwards."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_mix(track, seconds, folder / "mix.wav")
        (folder / "bench.chain.yaml").write_text(chain_of(variants))
        (folder / "made").mkdir()
        environment = {**os.environ, "SWEEPER_STORE": str(folder / "made" / "store")}
        asked = ("bench.chain.yaml", "--json", "--quiet", "--workers", str(workers))
        checked = json.loads(subprocess.run([*SWEEPER, "check", *asked], cwd=folder, env=environment, check=True,
                                            stdout=subprocess.PIPE).stdout)  # fmt: skip
        before = size(folder / "made")
        began = time.perf_counter()
        ran = subprocess.Popen([*SWEEPER, "run", *asked, "--results", "made/results"], cwd=folder, env=environment,
                               stdout=subprocess.PIPE)  # fmt: skip
        watch = Watch(psutil.Process(ran.pid), folder / "made")
        looking = threading.Thread(target=watch.look)
        looking.start()
        answer, _ = ran.communicate()
        wall_s = time.perf_counter() - began
        watch.over.set()
        looking.join()
        if ran.returncode not in (0, 1):
            raise SystemExit(f"sweeper run ended with {ran.returncode}")
        work, end = json.loads(answer)["work"], size(folder / "made")
    most = watch.most
    return (f"{variants:9}{seconds / 60:9.2f}{work['passes']:8} + {work['excerpts']:4.2f}"
            f"{wall_s:9.1f}{wall_s / variants / (seconds / 60):13.2f}"
            f"{most.worker / MEGABYTE:10.0f}{most.leader / MEGABYTE:8.0f}"
            f"{(max(most.disk, end) - before) / MEGABYTE:10.0f}{(end - before) / MEGABYTE:9.0f}"
            f"{_foretold(checked)}")  # fmt: skip


def _foretold(checked: dict[str, float]) -> str:
    return f"{checked['estimated_s_median']:11.1f}{checked['disk_bytes'] / MEGABYTE:9.0f}"


def table(title: str, asked: list[Callable[[], str]]) -> None:
    """A heading and a line each."""
    print(title)
    print(f"{'':42}{'s a variant':>13}{'MB: one':>10}{'':8}{'MB: most':>10}{'at the':>9}{'foretold':>11}")
    print(f"{'variants':>9}{'minutes':>9}{'passes':>15}{'s':>9}{'and minute':>13}{'worker':>10}{'leader':>8}"
          f"{'disk':>10}{'end':>9}{'s':>11}{'MB disk':>9}", flush=True)  # fmt: skip
    for one in asked:
        print(one(), flush=True)


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--track", type=Path, default=TRACK)
    parser.add_argument("--variants", type=int, nargs="*", default=[1, 4, 16])
    parser.add_argument("--minutes", type=float, nargs="*", default=[1, 4])
    parser.add_argument("--seconds", type=float, default=30.0, help="of the mix in the first table")
    parser.add_argument("--of", type=int, default=1, help="variants in the second table")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    rows: list[Callable[[], str]] = [
        lambda many=many: line(given.track, given.seconds, many, given.workers) for many in given.variants
    ]
    table(f"so many variants of {given.seconds:g} s", rows)
    rows = [lambda long=long: line(given.track, 60 * long, given.of, given.workers) for long in given.minutes]
    table(f"mixes of so many minutes, variants of each: {given.of}", rows)


if __name__ == "__main__":
    main()
