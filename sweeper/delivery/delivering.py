"""A variant handed over: every file that was asked for, measured, with checksums and a manifest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sweeper.audio import inspect
from sweeper.audio.labels import Labels
from sweeper.audio.placing import place_text
from sweeper.chain.file_names import file_name
from sweeper.chain.print_model import Edits, PrintSpec
from sweeper.chain.print_specs import rate_fault
from sweeper.delivery.ceiling import Over
from sweeper.delivery.files import print_files
from sweeper.delivery.folders import Places, places_for
from sweeper.delivery.kept import Ceiling, Kept
from sweeper.delivery.manifest import checksums_text, manifest, manifest_text
from sweeper.delivery.orders import PrintOrder
from sweeper.delivery.outcome import Print
from sweeper.delivery.planned import Planned, SolveAgain
from sweeper.delivery.shaping import RATES_HZ
from sweeper.errors import PrintError
from sweeper.workers import Pool


@dataclass(frozen=True)
class Asked:
    """What to print, and how. out: the folder for the files, None = one of the run's own.

    labels: reference is filled in. name: of the files, where it is no label. ceiling: for specs without their own.
    solve: for Over.SOLVE. level_db: a gain before the ceiling.
    """

    specs: tuple[PrintSpec, ...]
    labels: Labels
    name: str
    edits: Edits
    ceiling: Ceiling
    over: Over
    out: Path | None
    pattern: str | None
    now: datetime
    solve: SolveAgain | None = None
    level_db: float = 0.0


@dataclass(frozen=True)
class Delivery:
    """data: the manifest as it was written to `manifest`. checksums: the list's path."""

    prints: tuple[Print, ...]
    places: Places
    data: Mapping[str, object]


def deliver(kept: Kept, asked: Asked, pool: Pool) -> Delivery:
    """Print every spec; what was printed stands, and has its checksums and manifest, also where another one fails.

    Raises PrintError, OverCeiling, AudioFileError, RunFolderError.
    """
    places = places_for(kept, asked.out, print_names(kept, asked))
    planned = planned_prints(kept, asked, places.targets)
    files = print_files(planned, asked.over, asked.solve, pool, places.make)
    data = manifest(files.prints, places, asked.now)
    if files.prints:
        place_text(places.checksums, checksums_text(files.prints, places.folder))
        place_text(places.manifest, manifest_text(data))
    if files.failed is not None:
        raise files.failed
    return Delivery(files.prints, places, data)


def print_names(kept: Kept, asked: Asked) -> list[str]:
    """What the file of each spec is called."""
    return [_name(kept, asked, spec) for spec in asked.specs]


def planned_prints(kept: Kept, asked: Asked, targets: Sequence[Path]) -> list[Planned]:
    """The print of each spec. targets: the files. Raises PrintError for a spec that the mix's rate does not allow."""
    _check_rates(kept, asked)
    return [
        Planned(_order(kept, asked, spec, target), _ceiling(spec, asked.ceiling), kept)
        for spec, target in zip(asked.specs, targets, strict=True)
    ]


def _order(kept: Kept, asked: Asked, spec: PrintSpec, target: Path) -> PrintOrder:
    labels = replace(asked.labels, reference=kept.sheet.id)
    return PrintOrder(
        kept.render,
        kept.sheet.audio_sha256,
        spec,
        asked.edits,
        target,
        labels,
        f"{asked.now:%Y-%m-%d}",
        f"{asked.now:%H:%M:%S}",
        level_db=0.0 if spec.as_rendered else asked.level_db,
    )


def _ceiling(spec: PrintSpec, ours: Ceiling) -> Ceiling:
    if spec.as_rendered:
        return Ceiling(None, "printed as rendered")
    return ours if spec.ceiling_dbtp is None else Ceiling(spec.ceiling_dbtp, f"the ceiling of the spec {spec.name}")


def _name(kept: Kept, asked: Asked, spec: PrintSpec) -> str:
    rate_hz = spec.rate_hz or kept.sheet.source.rate_hz
    values = {
        "title": asked.labels.title or asked.name,
        "artist": asked.labels.artist,
        "isrc": asked.labels.isrc,
        "track": f"{asked.labels.track:02d}" if asked.labels.track else "",
        "variant": kept.id,
        "spec": spec.name,
        "rate": f"{rate_hz / 1000:g} kHz",
        "word": spec.word.text if spec.word else spec.format,
    }
    return file_name(asked.pattern or spec.pattern, values, spec.ending)


def _check_rates(kept: Kept, asked: Asked) -> None:
    """What a spec leaves to the mix's rate, and the mix's rate does not allow."""
    rate_hz = inspect(kept.render).format.rate_hz
    for spec in asked.specs:
        if spec.rate_hz is not None:
            continue
        if (fault := rate_fault(spec.format, rate_hz)) is not None:
            raise PrintError(f"spec {spec.name}: {fault[0]}, which is the mix's rate", f"in the spec, {fault[1]}")
        if spec.dither == "shaped" and rate_hz not in RATES_HZ:
            raise PrintError(
                f"spec {spec.name}: shaped dither is made for 44.1 and 48 kHz, the mix's rate is {rate_hz} Hz",
                "in the spec, write dither: tpdf, or rate: 44.1 kHz",
            )
