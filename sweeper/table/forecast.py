"""What a run of a chain file would take: variants, passes, time, disk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.chain.model import Chain
from sweeper.host.described import Plugin
from sweeper.plan.examine import Examined
from sweeper.plan.reach import MOST_PASSES
from sweeper.plan.variants import Variant
from sweeper.render.orders import Measured
from sweeper.units import clock

#: Passes that a loudness reach takes: in the median, by trial on real tracks; and at worst, the closest made again.
MEDIAN_PASSES, WORST_PASSES = 3, MOST_PASSES + 1


@dataclass(frozen=True)
class Checked:
    """A checked chain. stages, warnings, estimate: in words. data: what `check --json` prints."""

    stages: tuple[str, ...]
    warnings: tuple[str, ...]
    estimate: str
    data: dict[str, object]


def checked(chain: Chain, examined: Examined, found: Sequence[Variant], mixes: Sequence[Measured],
            speeds: Sequence[float], workers: int) -> Checked:  # fmt: skip
    """Put together what is known before a run. speeds: seconds of work a second of audio, for each mix."""
    single_s = [speed * mix.file.duration_s for speed, mix in zip(speeds, mixes, strict=True)]
    one_pass_s = sum(single_s[variant.mix] for variant in found)
    longest_s = max(single_s)
    passes = (MEDIAN_PASSES, WORST_PASSES) if chain.reach else (1, 1)
    busy = min(workers, len(found))
    times = tuple(max(one_pass_s * n / busy, longest_s * n) for n in passes)
    sizes = [mix.file.frames * mix.file.format.channels * 4 for mix in mixes]
    disk = sum(2 * sizes[variant.mix] for variant in found) + sum(sizes)
    data: dict[str, object] = {
        "schema": 1, "variants": len(found), "stages": len(chain.stages),
        "passes_median": len(found) * passes[0], "passes_worst": len(found) * passes[1],
        "estimated_s_median": round(times[0], 1), "estimated_s_worst": round(times[1], 1),
        "disk_bytes": disk, "workers": workers, "warnings": list(examined.warnings),
    }  # fmt: skip
    return Checked(tuple(_stage_words(chain, examined)), examined.warnings,
                   _in_words(len(found), bool(chain.reach), times, disk, workers), data)  # fmt: skip


def _stage_words(chain: Chain, examined: Examined) -> list[str]:
    words = []
    for stage in chain.stages:
        plugin: Plugin = examined.plugins[stage.name]
        extra = ["bypassed"] if stage.bypass else []
        extra += [stage.channels.value] if stage.channels.value != "stereo" else []
        extra += [f"delay {plugin.latency_frames} frames, taken out"] if plugin.latency_frames else []
        words.append(f"{stage.name}: {plugin.name} {plugin.version}" + (f" ({', '.join(extra)})" if extra else ""))
    return words


def _in_words(variants: int, solved: bool, times: tuple[float, ...], disk: int, workers: int) -> str:
    each = f"{MEDIAN_PASSES} passes each, {WORST_PASSES} at worst" if solved else "one pass each"
    span = clock(times[0]) if times[0] == times[1] else f"{clock(times[0])}, at worst {clock(times[1])}"
    many = f"{variants} variant{'s' * (variants != 1)}"
    return f"{many}, {each}: about {span} with {workers} workers, {disk / 1e6:.0f} MB on disk"
