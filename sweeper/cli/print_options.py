"""What the options of `print` take."""

from __future__ import annotations

import math

import click


class TimeType(click.ParamType[float]):
    """A time in the render: "0:00.5", "500 ms"."""

    name = "TIME"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Seconds, or a usage error."""
        from sweeper.units import parse_time_s

        if isinstance(value, float):
            return value
        found = parse_time_s(str(value))
        if found is None:
            self.fail(f'"{value}" is no time; write it like 0:01.5 or "500 ms"', param, ctx)
        return found


class CeilingType(click.ParamType[float]):
    """A true peak: "-1 dBTP"."""

    name = "dBTP"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """dBTP, or a usage error."""
        from sweeper.units import parse_amount, same_unit

        if isinstance(value, float):
            return value
        amount = parse_amount(str(value))
        found = same_unit(amount, "dBTP") if amount is not None else None
        if found is None or not math.isfinite(found) or found > 0:
            self.fail(f'"{value}" is no ceiling; write it like "-1 dBTP", 0 at most', param, ctx)
        return found


class IsrcType(click.ParamType[str]):
    """An ISRC, with or without hyphens."""

    name = "ISRC"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Its twelve characters, or a usage error."""
        from sweeper.chain.prints import ISRC_REMEDY, parse_isrc

        found = parse_isrc(str(value))
        if found is None:
            self.fail(f'"{value}" is no ISRC; {ISRC_REMEDY}', param, ctx)
        return found


class PatternType(click.ParamType[str]):
    """A pattern of file names: "{title} ({spec})"."""

    name = "PATTERN"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The pattern, or a usage error."""
        from sweeper.chain.file_names import pattern_fault

        fault = pattern_fault(str(value))
        if fault is not None:
            self.fail(f"{fault[0]}; {fault[1]}", param, ctx)
        return str(value)
