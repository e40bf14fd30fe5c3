"""Sections of a mix from seconds to frames, and the stretch at which levels are matched."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import Chain, Mix
from sweeper.errors import Problem
from sweeper.units import clock

Ranges = dict[str, tuple[tuple[int, int], ...]]


def match_name(match_over: Sequence[str]) -> str:
    """What the matched stretch is called among the sections: one section's name, or several joined by " + "."""
    return " + ".join(match_over)


def frame_ranges(mix: Mix, match_over: Sequence[str], rate_hz: int) -> Ranges:
    """Every section of a mix as frames, and the matched stretch when it is more than one section."""
    ranges: Ranges = {s.name: ((round(s.start_s * rate_hz), round(s.end_s * rate_hz)),) for s in mix.sections}
    if len(match_over) > 1:
        ranges[match_name(match_over)] = tuple(ranges[name][0] for name in match_over if name in ranges)
    return ranges


def too_long(chain: Chain, mix: Mix, duration_s: float) -> list[Problem]:
    """A problem for each section and each time of a ride that does not lie in the mix (half a second is forgiven)."""
    return [
        Problem(str(chain.path), mix.mark.line, mix.mark.column,
                f"section '{s.name}' ends at {clock(s.end_s)}, but {mix.written} lasts {clock(duration_s)}",
                "correct its times")
        for s in mix.sections
        if s.end_s > duration_s + 0.5 or s.start_s >= duration_s
    ] + [
        Problem(str(chain.path), ride.mark.line, ride.mark.column,
                f"the ride '{ride.name}' is to end at {clock(end_s)}, but {mix.written} lasts {clock(duration_s)}",
                "correct its times, or name sections, which each mix has at its own times")
        for ride in chain.rides
        for start_s, end_s in ride.spans
        if end_s > duration_s + 0.5 or start_s >= duration_s
    ] + [
        Problem(str(chain.path), mix.mark.line, mix.mark.column,
                f"section '{s.name}' is shorter than 400 ms: it has no loudness to match over", "make it longer")
        for s in mix.sections
        if s.name in chain.match_over and s.end_s - s.start_s < 0.4
    ]  # fmt: skip
