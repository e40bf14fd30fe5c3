"""The measurements of one file as a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Measurements:
    """Every quantity of one file, or of one section of it.

    values: key -> number, None where it does not exist (never nan, never infinite).
    reasons: key -> why it is None. sections: section name -> its own measurements.
    """

    values: Mapping[str, float | None]
    reasons: Mapping[str, str] = field(default_factory=dict)
    sections: Mapping[str, Measurements] = field(default_factory=dict)

    def __getitem__(self, key: str) -> float | None:
        return self.values[key]

    def as_data(self) -> dict[str, object]:
        """A flat dictionary for JSON: the values, then `reasons` and `sections` where there are any."""
        data: dict[str, object] = dict(self.values)
        if self.reasons:
            data["reasons"] = dict(self.reasons)
        if self.sections:
            data["sections"] = {name: part.as_data() for name, part in self.sections.items()}
        return data
