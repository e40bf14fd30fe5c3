"""A variant handed over: every file that was asked for, measured, with checksums and a manifest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path

from sweeper.audio import inspect
from sweeper.audio.labels import Labels
from sweeper.audio.placing import place_text
from sweeper.chain.file_names import file_name
from sweeper.chain.print_model import Edits, PrintSpec
from sweeper.chain.print_specs import rate_fault
from sweeper.delivery.ceiling import Over, trim_db
from sweeper.delivery.folders import Places, places_for
from sweeper.delivery.kept import Ceiling, Kept
from sweeper.delivery.manifest import manifest, manifest_text
from sweeper.delivery.orders import Printed, PrintOrder
from sweeper.delivery.outcome import Print
from sweeper.delivery.planned import Looked, Planned, SolveAgain, looked_ahead, refuse_over, solved_again
from sweeper.delivery.shaping import RATES_HZ
from sweeper.errors import PrintError
from sweeper.workers import Failed, Pool, Task, value_of
from sweeper.workers.task import Outcome

PRINT = "sweeper.delivery.printing:print_file"


@dataclass(frozen=True)
class Asked:
    """What to print, and how. out: the folder for the files, None = one of the run's own.

    labels: reference is filled in. name: of the files, where it is no label. ceiling: for specs without their own.
    solve: for Over.SOLVE.
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
    _check_rates(kept, asked)
    places = places_for(kept, asked.out, [_name(kept, asked, spec) for spec in asked.specs])
    planned = [
        Planned(_order(kept, asked, spec, target), _ceiling(spec, asked.ceiling), kept)
        for spec, target in zip(asked.specs, places.targets, strict=True)
    ]
    looked = looked_ahead(planned, pool)
    if asked.over is Over.STOP:
        refuse_over(looked)
    if asked.over is Over.SOLVE and asked.solve is not None:
        looked = solved_again(looked, asked.solve, pool)
    looked = [_trimmed(one) for one in looked]
    places.make()
    outcomes = pool.map_in_order(
        [Task(str(n), PRINT, one.order, one.order.target.name) for n, one in enumerate(looked)]
    )
    prints = tuple(
        Print(one.order, one.ceiling, one.ahead, printed, one.kept)
        for one, printed in zip(looked, _done(outcomes), strict=True)
        if printed is not None
    )
    data = manifest(prints, places, asked.now)
    if prints:
        place_text(places.checksums, "".join(f"{one.printed.sha256}  {one.printed.target.name}\n" for one in prints))
        place_text(places.manifest, manifest_text(data))
    for one, outcome in zip(looked, outcomes, strict=True):
        value_of(outcome, Printed, partial(_not_printed, one.order))
    return Delivery(prints, places, data)


def _trimmed(one: Looked) -> Looked:
    gain_db = trim_db(one.ahead, one.ceiling.dbtp, one.order.spec)
    return replace(one, order=replace(one.order, gain_db=gain_db))


def _done(outcomes: Sequence[Outcome]) -> list[Printed | None]:
    values = [None if isinstance(outcome, Failed) else outcome.value for outcome in outcomes]
    return [value if isinstance(value, Printed) else None for value in values]


def _not_printed(order: PrintOrder, failed: Failed) -> PrintError:
    return PrintError(f"printing {order.target.name} {failed.what}", "try again; nothing of it is left")


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
