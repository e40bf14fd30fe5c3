"""The measurements of one file as a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sweeper.quantities.registry import BY_KEY

_REASONS, _SECTIONS, _THIRDS = "reasons", "sections", "thirds_dbfs"
#: Why a harmonic has no level, and what it counts as where it is compared.
NO_HARMONICS, LOST_DB = "no harmonic stands out of the noise", -160.0
#: Nothing that is measured comes near it; infinity and what is no number are not below it.
LARGEST = 1e300


@dataclass(frozen=True)
class Measurements:
    """Every quantity of one file, or of one section of it.

    values: key -> number, None where it does not exist (never nan, never infinite). What an earlier version wrote lacks
    what that version did not measure.
    reasons: key -> why it is None. sections: section name -> its own measurements. thirds_dbfs: RMS in each third of an
    octave from 20 Hz to 20 kHz, None in a band that holds nothing; () = not measured.
    """

    values: Mapping[str, float | None]
    reasons: Mapping[str, str] = field(default_factory=dict)
    sections: Mapping[str, Measurements] = field(default_factory=dict)
    thirds_dbfs: tuple[float | None, ...] = ()

    def __getitem__(self, key: str) -> float | None:
        """The number; None where there is none, or was not measured then. Raises KeyError for what is no quantity."""
        return self.values.get(key) if key in BY_KEY else self.values[key]

    def compared(self, key: str) -> float | None:
        """The number to hold against a limit or a goal; a harmonic that is lost in noise counts as very low."""
        value = self.values.get(key)
        return LOST_DB if value is None and self.reasons.get(key) == NO_HARMONICS else value

    def as_data(self) -> dict[str, object]:
        """A flat dictionary for JSON: the values, then `thirds_dbfs`, `reasons` and `sections` where there are any."""
        data: dict[str, object] = dict(self.values)
        if self.thirds_dbfs:
            data[_THIRDS] = list(self.thirds_dbfs)
        if self.reasons:
            data[_REASONS] = dict(self.reasons)
        if self.sections:
            data[_SECTIONS] = {name: part.as_data() for name, part in self.sections.items()}
        return data

    @classmethod
    def from_data(cls, data: object) -> Measurements:
        """What `as_data` made, read back. Raises ValueError that names what is no measurement."""
        if not isinstance(data, Mapping):
            raise ValueError(f"measurements are a mapping, not {data!r}")
        reasons, sections, thirds = data.get(_REASONS, {}), data.get(_SECTIONS, {}), data.get(_THIRDS, [])
        if not isinstance(reasons, Mapping) or not all(isinstance(why, str) for why in reasons.values()):
            raise ValueError("the reasons are not texts by measurement")
        if not isinstance(sections, Mapping):
            raise ValueError("the sections are not measurements by name")
        if not isinstance(thirds, list):
            raise ValueError("the thirds of an octave are not a list")
        beside = (_REASONS, _SECTIONS, _THIRDS)
        return cls(
            {str(key): _value(key, value) for key, value in data.items() if key not in beside},
            dict(reasons), {name: cls.from_data(part) for name, part in sections.items()},
            tuple(_value(_THIRDS, value) for value in thirds),
        )  # fmt: skip


def _value(key: object, value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < LARGEST:
        raise ValueError(f"{key} is {value!r}, not a number")
    return value
