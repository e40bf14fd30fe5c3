"""What players make of a pick: its gain at each playback level, and the sound after a lossy codec, aligned."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from sweeper.audition.codecs import BY_KEY, CODECS, Coded, CodeOrder
from sweeper.audition.heard import Found, Kind
from sweeper.errors import SweeperError
from sweeper.quantities import Measurements
from sweeper.render.writing import write_whole
from sweeper.targets.playback import LEVELS, Sound, played
from sweeper.workers import Failed, Pool, Task

#: Counts the changes of what a coded copy is; one of another count is made again.
VERSION = 2


def playback_data(measured: Measurements) -> list[dict[str, object]]:
    """The gain at each level that documents name for single files, and what comes out; see `targets.playback`."""
    sound = Sound(measured["loudness_lufs"], measured["true_peak_dbtp"])
    found = []
    for level in LEVELS:
        (one,) = played(level, [sound])
        if level.album or one.gain_db is None:
            continue
        found.append({
            "level_lufs": level.loudness_lufs, "document": level.target.document, "use": level.use,
            "gain_db": _rounded(one.gain_db), "loudness_lufs": _rounded(one.loudness_lufs),
            "true_peak_dbtp": _rounded(one.true_peak_dbtp), "held_back_db": _rounded(one.held_back_db),
        })  # fmt: skip
    return found


def service_words(measured: Measurements) -> str | None:
    """at -16 LUFS (AES TD1008) turned by -2.0 dB; None without a loudness."""
    levels = playback_data(measured)
    if not levels:
        return None
    first = levels[0]
    return f"at {first['level_lufs']:g} LUFS ({first['document']}) turned by {first['gain_db']:+.1f} dB"


def coded(variants: Sequence[tuple[Found, Path]], place: Path, pool: Pool, told: list[str],
          ) -> list[tuple[Found, Path, str]]:  # fmt: skip
    """A preview of each in each codec, with its file, and what to say of it. A codec that fails is told and left out.

    place: the run's `audition` folder, which keeps what was coded.
    """
    wanted = [(found, file, codec) for found, file in variants for codec in CODECS]
    targets = [place / "sounds" / f"{found.id}-{found.sha256[:16]}-{codec.key}-v{VERSION}.wav"
               for found, _, codec in wanted]  # fmt: skip
    orders = {str(n): CodeOrder(file, target, codec.key)
              for n, ((_, file, codec), target) in enumerate(zip(wanted, targets, strict=True))
              if not (target.is_file() and _beside(target).is_file())}  # fmt: skip
    for order in orders.values():
        order.target.unlink(missing_ok=True)  # a copy of ours without the words beside it: it was being made
    tasks = [Task(n, "sweeper.audition.codecs:code", order, f"{order.source.parent.name} as {order.codec}")
             for n, order in orders.items()]  # fmt: skip
    for n, outcome in zip(orders, pool.map_in_order(tasks), strict=True):
        found, _, codec = wanted[int(n)]
        if isinstance(outcome, Failed):
            what = outcome.error.what if isinstance(outcome.error, SweeperError) else outcome.what
            told.append(f"{found.id} as {codec.name} is left out: {what}")
            continue
        assert isinstance(outcome.value, Coded)
        write_whole(_beside(targets[int(n)]), json.dumps(vars(outcome.value)))
    return [_preview(found, codec.key, target) for (found, _, codec), target in zip(wanted, targets, strict=True)
            if _beside(target).is_file()]  # fmt: skip


def preview_data(file: Path, before: Measurements, after: Measurements) -> dict[str, object]:
    """What is told of a coded copy. overshoot_dbtp: how far its true peak is over full scale; rise_db: over what it
    was before. service: what a player that normalises music does to it, in words."""
    how = Coded(**json.loads(_beside(file).read_text("utf-8")))
    peak, was = after["true_peak_dbtp"], before["true_peak_dbtp"]
    return {
        "codec": file.stem.rpartition("-v")[0].rpartition("-")[2], "bitrate_kbps": how.bitrate_kbps,
        "coded_rate_hz": how.coded_rate_hz, "delay_frames": how.delay_frames,
        "overshoot_dbtp": None if peak is None else _rounded(max(0.0, peak)),
        "rise_db": None if peak is None or was is None else _rounded(peak - was), "service": service_words(after),
    }  # fmt: skip


def _preview(variant: Found, key: str, target: Path) -> tuple[Found, Path, str]:
    how = Coded(**json.loads(_beside(target).read_text("utf-8")))
    name = f"{variant.id} as {BY_KEY[key].name}"
    note = f"about {how.bitrate_kbps:.0f} kbps, coded at {how.coded_rate_hz} Hz"
    sha256 = f"{variant.sha256}-{key}-v{VERSION}"
    return Found(f"{variant.id}-{key}", Kind.PREVIEW, name, target, sha256, None, of=variant.id), target, note


def _beside(target: Path) -> Path:
    return target.with_suffix(".json")


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value + 0.0, 3)
