"""From hosted stages to the records that let them be set up again. Runs in workers."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from sweeper.audio import file_hash
from sweeper.chain.model import BLEND
from sweeper.host.builtin_table import PREFIX
from sweeper.host.bundle import program_of
from sweeper.host.instance import Instance
from sweeper.host.setup import plugin_word
from sweeper.host.stage import HostedStage
from sweeper.records import Applied, RideRecord, StageRecord
from sweeper.render.job import stamp_of


def _hash_of(path: Path) -> str:
    return _hash_once(path, stamp_of(path) if path.is_file() else (0, 0))


@lru_cache(maxsize=256)
def _hash_once(path: Path, stamp: tuple[int, int]) -> str:
    """The hash of a file as it is: one that has changed has another stamp."""
    return file_hash(path)


def stage_record(stage: HostedStage) -> StageRecord:
    """The stage as it stands now: its plugin, its state file, every setting read back."""
    setup = stage.setup
    effect = stage.instances[0].effect if stage.instances else None
    builtin = setup.path.startswith(PREFIX)
    return StageRecord(
        name=setup.name,
        plugin=effect.name if effect else plugin_word(setup.path),
        path=setup.path,
        maker=effect.maker if effect else "",
        version=effect.version if effect else "",
        identifier=effect.identifier if effect else "",
        program_sha256="" if builtin or not setup.path else _hash_of(program_of(setup.path)),
        state_file=str(setup.state or ""),
        state_sha256=_hash_of(setup.state) if setup.state else "",
        channels=setup.channels.value,
        bypass=setup.bypass,
        input_trim_db=stage.own["input trim"],
        output_trim_db=stage.own["output trim"],
        latency_frames=stage.latency_frames,
        settings=stage.applied,
        standing=tuple(left for instance in stage.instances for left in _left_alone(stage, instance)),
        output=setup.output,
        label=setup.label,
        blend=stage.own[BLEND],
        latency=setup.latency.text if setup.latency else "",
        tail_s=setup.tail_s,
        instances=setup.instances,
        inverted=setup.inverted,
        bus=setup.bus,
        is_fader=setup.is_fader,
        rides=_rides(stage),
        outside=setup.outside,
    )


def _rides(stage: HostedStage) -> tuple[RideRecord, ...]:
    """Every ride with how far it went, once for each plugin instance that it moves."""
    return tuple(
        RideRecord(m.ride.name, m.ride.setting, side, m.ride.amount.text, m.ride.relative, m.amount, m.ride.spans_s,
                   m.ride.ramp_s)
        for side, m in stage.moves()
    )  # fmt: skip


def _left_alone(stage: HostedStage, instance: Instance) -> list[Applied]:
    made = {applied.name for applied in stage.applied if applied.side == instance.side}
    return [
        Applied(control.name, control.index, instance.side, "", control.raw(), control.text_at(control.raw()))
        for control in instance.effect.controls
        if control.settable and control.name not in made
    ]
