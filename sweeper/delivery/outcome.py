"""One file that was printed, with all that is known of it."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.delivery.kept import Ceiling, Kept
from sweeper.delivery.orders import Ahead, Printed, PrintOrder


@dataclass(frozen=True)
class Print:
    """One file: what was asked, what was found before words were made, what is in it now. kept: what it was made of."""

    order: PrintOrder
    ceiling: Ceiling
    ahead: Ahead
    printed: Printed
    kept: Kept
