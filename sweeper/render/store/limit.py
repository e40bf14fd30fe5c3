"""How much the store may hold."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

from sweeper.errors import SweeperError
from sweeper.render.store.contents import entries
from sweeper.render.store.lock import usable
from sweeper.units import parse_amount

#: Of the disk's free space and of what the store holds already: the rest stays the engineer's.
SHARE = 0.2
#: Bytes in a unit, as disks are sold (SI) and as IEC 80000-13 names the binary ones.
UNITS = {"kb": 10**3, "mb": 10**6, "gb": 10**9, "tb": 10**12, "kib": 2**10, "mib": 2**20, "gib": 2**30, "tib": 2**40}
_REMEDY = 'write it like "20 GB" or "500 MB"; 0 keeps nothing'


def default_limit_bytes(folder: Path) -> int:
    """A fifth of the room that the disk would have without the store. Raises StoreError."""
    there = folder.absolute()
    with usable(folder):
        while not there.exists():
            there = there.parent
        held = sum(found.bytes for found in entries(folder).values())
        return int(SHARE * (shutil.disk_usage(there).free + held))


def parse_limit(text: str) -> int:
    """Read "20 GB", "1,5 TB", "512 MiB" or "0" as bytes. Raises SweeperError."""
    amount = parse_amount(text)
    if amount is None or not math.isfinite(amount.value) or amount.value < 0:
        raise SweeperError(f'"{text}" is no amount of disk space', _REMEDY)
    unit = amount.unit.lower()
    if amount.value == 0 and unit in ("", *UNITS):
        return 0
    if unit not in UNITS:
        what = f"{amount.unit} is no unit of disk space" if unit else "the unit is missing"
        raise SweeperError(f'"{text}": {what}', _REMEDY)
    return int(amount.value * UNITS[unit])
