"""The variants that a chain file asks for: every combination of `vary`, for every mix, in the file's order."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sweeper.chain.model import Chain, SettingRef, SettingValue, Stage, Switch
from sweeper.host.setup import Dialled, StageSetup
from sweeper.plan.names import BYPASS, setting_of


@dataclass(frozen=True)
class Variant:
    """One complete set of settings for one mix.

    id: "001", "002", ... in the file's order. mix: its number in the chain. varied: what `vary` chose, as
    written, by reference.
    """

    id: str
    mix: int
    varied: Mapping[str, str]
    stages: tuple[StageSetup, ...]


def variants(chain: Chain, paths: Mapping[str, str]) -> tuple[Variant, ...]:
    """Every variant. paths: stage name -> the plugin's file or "builtin:NAME".

    The last entry of `vary` changes fastest; mixes change slowest.
    """
    combinations = list(itertools.product(*(axis.values for axis in chain.vary)))
    digits = max(3, len(str(len(combinations) * len(chain.mixes))))
    found: list[Variant] = []
    for mix, values in itertools.product(range(len(chain.mixes)), combinations):
        chosen = list(zip((axis.ref for axis in chain.vary), values, strict=True))
        stages = tuple(_varied(stage, base_setup(stage, paths[stage.name]), chosen) for stage in chain.stages)
        varied = {str(ref): value.text for ref, value in chosen}
        found.append(Variant(f"{len(found) + 1:0{digits}d}", mix, varied, stages))
    return tuple(found)


def base_setup(stage: Stage, path: str) -> StageSetup:
    """A stage as the chain file sets it, before `vary`."""
    settings = tuple(Dialled(a.name, a.side, a.value) for a in stage.settings)
    return StageSetup(stage.name, path, stage.state, stage.channels, settings, stage.input_trim_db,
                      stage.output_trim_db, stage.bypass)  # fmt: skip


def _varied(stage: Stage, setup: StageSetup, chosen: list[tuple[SettingRef, SettingValue]]) -> StageSetup:
    for ref, value in chosen:
        if ref.stage != stage.name:
            continue
        if ref.setting == BYPASS and isinstance(value, Switch):
            setup = replace(setup, bypass=value.on)
        else:
            setup = setup.with_setting(Dialled(setting_of(stage, ref), ref.side, value))
    return setup
