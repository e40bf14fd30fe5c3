"""From a sheet's stages to stages that can be hosted: the plugin, the state file, every setting where it stood."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.audio import file_hash
from sweeper.chain.embedding import latency_in
from sweeper.chain.model import BLEND, OWN_SETTINGS, Channels, Number, Travel
from sweeper.errors import PluginMissing, SheetError
from sweeper.host.builtin_table import PREFIX
from sweeper.host.catalogue import find
from sweeper.host.place import parted
from sweeper.host.setup import RideSetup, StageSetup
from sweeper.recall.find import Found
from sweeper.records import Applied, RideRecord, StageRecord
from sweeper.render.settled import dialled


@dataclass(frozen=True)
class SetUp:
    """One stage ready to be hosted. missing: its plugin is not installed here, and why; "" = it is there.

    state_lost: its state file is nowhere any more, so that `setup` has none.
    """

    record: StageRecord
    setup: StageSetup
    missing: str
    state_lost: bool
    note: str


def set_up(found: Found, results: Path) -> tuple[SetUp, ...]:
    """Every stage of the sheet, with its plugin and its state as they are found here. Raises SheetError."""
    return tuple(_stage(record, found.run, results) for record in found.sheet.stages)


def required(stages: tuple[SetUp, ...], covered: int = 0) -> tuple[StageSetup, ...]:
    """The setups, for rendering. covered: so many at the head are not rendered: what comes out of them is kept.

    Raises PluginMissing for the first plugin behind those that is not installed.
    """
    for stage in stages[covered:]:
        if stage.missing:
            raise PluginMissing(f"stage '{stage.record.name}': {stage.missing}",
                                f"install it again, or put it back at {stage.record.path}")  # fmt: skip
    return tuple(stage.setup for stage in stages)


def _stage(record: StageRecord, run: Path, results: Path) -> SetUp:
    path, missing = _plugin(record)
    state, note = _state(record, run, results)
    try:
        channels = Channels(record.channels)
    except ValueError as exc:
        raise SheetError(f"stage '{record.name}' has channels {record.channels!r}",
                         "use the version of sweeper that wrote the sheet") from exc  # fmt: skip
    setup = StageSetup(
        name=record.name, path=path, state=state, channels=channels, settings=tuple(map(dialled, record.settings)),
        input_trim_db=record.input_trim_db, output_trim_db=record.output_trim_db, bypass=record.bypass,
        label=record.label, output=record.output, blend=record.blend, latency=_latency(record), tail_s=record.tail_s,
        instances=record.instances, inverted=record.inverted, outside=record.outside, bus=record.bus,
        is_fader=record.is_fader, rides=tuple(map(_ride, record.rides)),
    )  # fmt: skip
    return SetUp(record, setup, missing, bool(record.state_sha256) and state is None, note)


def _latency(record: StageRecord) -> Number | None:
    """The delay that the chain file said, as it was read from there."""
    if not record.latency:
        return None
    found = latency_in(record.latency)
    if found is None:
        raise SheetError(f"stage '{record.name}' has the delay {record.latency!r}",
                         "use the version of sweeper that wrote the sheet")  # fmt: skip
    return found


def _ride(record: RideRecord) -> RideSetup:
    """A ride that goes as far as it went then, by position and not by its text."""
    amount: Number | Travel = Travel(record.moves, record.amount)
    if record.setting in OWN_SETTINGS:
        in_per_cent = record.setting == BLEND
        amount = Number(record.moves * (100 if in_per_cent else 1), "%" if in_per_cent else "dB", record.amount)
    spans_s = tuple((span[0], span[1]) for span in record.spans_s)
    return RideSetup(record.name, record.setting, record.side, amount, record.relative, spans_s, record.ramp_s)


def _plugin(record: StageRecord) -> tuple[str, str]:
    """The plugin's file: where it was, else by its name; and why it is not to be had, "" when it is."""
    if record.bypass or not record.path or record.path.startswith(PREFIX) or Path(parted(record.path)[0]).exists():
        return record.path, ""
    try:
        file, inner = parted(record.path)
        return find(inner or Path(file).stem, Path.cwd()), ""
    except PluginMissing as exc:
        return record.path, exc.what


def _state(record: StageRecord, run: Path, results: Path) -> tuple[Path | None, str]:
    """The state file if its content is what it was, else the copy that a run kept; a note where that needs one."""
    if not record.state_sha256:
        return None, ""
    recorded = Path(record.state_file)
    folders = (run / "states", *results.glob("*/states"))
    kept = [path for folder in folders for path in folder.glob(f"{record.state_sha256}*")]
    for path in (recorded, *kept):
        if path.is_file() and file_hash(path) == record.state_sha256:
            changed = "has changed" if recorded.is_file() else "is gone"
            note = f"stage '{record.name}': {recorded} {changed}; the copy that the run kept is used"
            return path.absolute(), "" if path == recorded else note
    return None, (f"stage '{record.name}': its state {recorded.name} is nowhere to be found as it was: "
                  "every control is set one by one to where it stood")  # fmt: skip


def with_settings(setup: StageSetup, more: tuple[Applied, ...]) -> StageSetup:
    """The setup with further settings, made after its own."""
    return replace(setup, settings=setup.settings + tuple(map(dialled, more)))
