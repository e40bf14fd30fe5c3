"""Whether a run fits on the disk, before anything is rendered."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.chain.model import Chain
from sweeper.errors import RunFolderError
from sweeper.plan.planned import Plan
from sweeper.plan.variants import Variant
from sweeper.render.orders import Measured

#: What is left free beside: logs, sheets, tables.
MARGIN_BYTES = 20_000_000


@dataclass(frozen=True)
class Need:
    """Bytes that a run takes at most. results: in its folder. store: for steps, beside what is there."""

    results: int
    store: int


def need(chain: Chain, plan: Plan, mixes: Sequence[Measured], found: Sequence[Variant], store_room: int,
         run: Path | None = None) -> Need:  # fmt: skip
    """Of the renders that are left to do, a listening copy of each that is kept and of each mix, and the store.

    found: all variants, done ones too. store_room: what the store may still take. run: the folder of a run that goes
    on, whose listening copies make room for new ones.
    """
    sizes = [mix.file.frames * mix.file.format.channels * 4 + 4096 for mix in mixes]
    left = Counter(variant.mix for variant in plan.variants.values())
    renders = sum(size * left[number] for number, size in enumerate(sizes))
    counts = [sum(v.mix == number for v in found) for number in range(len(sizes))]
    kept = counts if chain.keep is None else [min(chain.keep, count) for count in counts]
    copies = sum(size * count for size, count in zip(sizes, kept, strict=True)) + sum(sizes)
    there = sum(file.stat().st_size for file in run.glob("*/**/*matched.wav")) if run else 0
    results = renders + max(0, copies - there) + 20_000 * len(plan.variants)
    return Need(results, min(plan.storing.most_bytes, max(0, store_room)))


def refuse_what_cannot_fit(wanted: Need, results: Path, store: Path) -> None:
    """Raises RunFolderError when the disks have less room than is needed."""
    there, apart = _standing(results), _standing(store)
    total = wanted.results + MARGIN_BYTES
    if there.stat().st_dev == apart.stat().st_dev:
        total += wanted.store
    free = shutil.disk_usage(there).free
    if total > free:
        raise RunFolderError(
            f"this run needs {_words(total)} on the disk with {there}, and {_words(free)} are free",
            "make room, name another disk with --results, vary less, or keep fewer files with "
            "`audition: {keep: N}`; a smaller --store-limit helps where the store is on the same disk",
        )


def _standing(folder: Path) -> Path:
    """The folder, or the nearest one above it that is there."""
    folder = folder.absolute()
    while not folder.exists():
        folder = folder.parent
    return folder


def _words(size_bytes: int) -> str:
    return f"{size_bytes / 1e9:.1f} GB" if size_bytes >= 1e9 else f"{size_bytes / 1e6:.0f} MB"
