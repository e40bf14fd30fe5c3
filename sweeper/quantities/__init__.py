"""What can be measured: one entry a quantity, with the key in data and the name in chain files."""

from sweeper.quantities.measurements import NO_HARMONICS, Measurements
from sweeper.quantities.registry import (
    BY_KEY,
    BY_NAME,
    OF_FILES,
    QUANTITIES,
    Quantity,
    find_quantity,
    named_quantity,
    quantity_of,
)

__all__ = [
    "BY_KEY", "BY_NAME", "NO_HARMONICS", "OF_FILES", "QUANTITIES", "Measurements", "Quantity", "find_quantity",
    "named_quantity", "quantity_of",
]  # fmt: skip
