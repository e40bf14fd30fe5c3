"""From a sheet's stages to stages that can be hosted: the plugin, the state file, every setting where it stood."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.audio import file_hash
from sweeper.chain.model import Channels, Travel
from sweeper.errors import PluginMissing, SheetError
from sweeper.host.builtin_table import PREFIX
from sweeper.host.catalogue import find
from sweeper.host.setup import Dialled, StageSetup
from sweeper.recall.find import Found
from sweeper.records import Applied, StageRecord


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


def required(stages: tuple[SetUp, ...]) -> tuple[StageSetup, ...]:
    """The setups, for rendering. Raises PluginMissing for the first plugin that is not installed."""
    for stage in stages:
        if stage.missing:
            raise PluginMissing(f"stage '{stage.record.name}': {stage.missing}",
                                f"install it again, or put it back at {stage.record.path}")  # fmt: skip
    return tuple(stage.setup for stage in stages)


def dialled(applied: Applied) -> Dialled:
    """A setting to be made where it stood."""
    return Dialled(applied.name, applied.side, Travel(applied.raw, applied.asked or applied.text), applied.raw)


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
        label=record.label, output=record.output,
    )  # fmt: skip
    return SetUp(record, setup, missing, bool(record.state_sha256) and state is None, note)


def _plugin(record: StageRecord) -> tuple[str, str]:
    """The plugin's file: where it was, else by its name; and why it is not to be had, "" when it is."""
    if record.bypass or record.path.startswith(PREFIX) or Path(record.path).exists():
        return record.path, ""
    try:
        return find(Path(record.path).stem, Path.cwd()), ""
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
