"""Rides as a chain file has them, from what a sheet says of them."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.chain.model import BLEND, OWN_SETTINGS
from sweeper.chain.template import note_text, yaml_text
from sweeper.records import RideRecord, StageRecord


def ride_lines(stage: StageRecord) -> Iterator[str]:
    """The entries of `rides` for one stage, each going exactly as far as it went, with its old amount as a note."""
    names = [ride.name for ride in stage.rides]
    for ride in () if stage.bypass else stage.rides:
        name = ride.name if names.count(ride.name) == 1 else f"{ride.name}-{ride.side}"
        setting = "level" if stage.is_fader else ride.setting
        ref = ".".join(part for part in (stage.name, ride.side, setting) if part)
        word = "by" if ride.relative else "to"
        times = ", ".join(f'"{span[0]!r}-{span[1]!r}"' for span in ride.spans_s)
        yield f"  - name: {yaml_text(name)}"
        yield f"    set: {yaml_text(ref)}"
        yield f"    {word}: {_amount(ride)}   # {note_text(ride.amount)}"
        yield f"    in: [{times}]"
        yield f"    ramp: {ride.ramp_s!r} s"


def _amount(ride: RideRecord) -> str:
    sign = "+" if ride.relative and ride.moves > 0 else ""
    if ride.setting == BLEND:
        return f"{sign}{per_cent(ride.moves)} %"
    return f"{sign}{ride.moves!r} dB" if ride.setting in OWN_SETTINGS else f"{sign}{per_cent(ride.moves)} % travel"


def per_cent(share: float) -> str:
    """A share in per cent, with as many digits as it takes to come back to it."""
    return next(text for digits in range(3, 19) if float(text := f"{100 * share:.{digits}g}") / 100 == share
                or digits == 18)  # fmt: skip
