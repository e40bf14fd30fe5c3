"""What mixes have of their own, as every variant has it: for its row in the table."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from sweeper.chain.model import BLEND, OWN_SETTINGS, TRIMS, SettingRef
from sweeper.host.setup import StageSetup
from sweeper.plan.examined import ChoiceKey, key_of
from sweeper.plan.names import BYPASS, setting_of
from sweeper.plan.setups import Heard
from sweeper.units import folded

#: Nobody sets it: it stands as the state has it, or the plugin once it is loaded.
AS_DIALLED = "as dialled"


class OwnTold(NamedTuple):
    """A setting that some mix has of its own, as one variant has it.

    name: as the chain file names it. text: the value as written, AS_DIALLED where nothing sets it. control: the
    plugin's own name for it.
    """

    name: str
    text: str
    stage: str
    control: str
    side: str


def own_told(refs: Sequence[SettingRef], heard: Sequence[Heard],
             lacking: Collection[tuple[ChoiceKey, SettingRef]]) -> tuple[OwnTold, ...]:  # fmt: skip
    """Each of these settings that is heard. lacking: those that an alternative has not."""
    by_name = {one.setup.name: one for one in heard}
    found = []
    for ref in refs:
        one = by_name.get(ref.stage)
        if one is not None and (key_of(one.choice), ref) not in lacking:
            control = setting_of(one.choice, ref)
            found += [OwnTold(str(ref), text, ref.stage, control, ref.side) for text in _text(ref, control, one.setup)]
    return tuple(found)


def _text(ref: SettingRef, control: str, setup: StageSetup) -> Iterator[str]:
    """What a stage has; nothing where it is not heard."""
    if control == BYPASS:
        yield "on" if setup.bypass else "off"
    elif ref.ride:
        yield from (ride.amount.text for ride in setup.rides if ride.name == ref.ride and not setup.bypass)
    elif not setup.bypass:
        yield _own_text(setup, control) if control in OWN_SETTINGS else _set_text(setup, control, ref.side)


def _own_text(setup: StageSetup, name: str) -> str:
    if name == BLEND:
        return f"{100 * setup.blend:g} %"
    return f"{setup.input_trim_db if name == TRIMS[0] else setup.output_trim_db:g} dB"


def _set_text(setup: StageSetup, control: str, side: str) -> str:
    """What the chain file sets a control to; its sides apart where they differ."""
    asked = {one.side: one.value.text for one in setup.settings if folded(one.name) == folded(control)}
    texts = {each: asked.get(each, asked.get("", AS_DIALLED)) for each in ([side] if side else setup.channels.sides)}
    if len(set(texts.values())) == 1:
        return next(iter(texts.values()))
    return ", ".join(f"{each} {text}" for each, text in texts.items())
