"""What can be measured: one entry a quantity, with the key in data and the name in chain files."""

from sweeper.quantities.measurements import Measurements
from sweeper.quantities.registry import BY_KEY, BY_NAME, QUANTITIES, Quantity

__all__ = ["BY_KEY", "BY_NAME", "QUANTITIES", "Measurements", "Quantity"]
