"""Which controls only show something: told from settings by trying. Imported in workers only."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.host.control import Control
from sweeper.host.effect import Effect, settle
from sweeper.host.question import Fault
from sweeper.host.settings import PATIENCE_BLOCKS, STUCK


def deaf(effect: Effect, controls: Sequence[Control], channels: int, rate_hz: int, block_frames: int) -> frozenset[int]:
    """The indices of those controls that take no value: nudged a little, then further, they stay where they were.

    Stepped ones are not tried. By the plugin's own word, read by a second instance; each is put back. Those that are
    late get as much silence as a setting does.
    """
    left = [control for control in controls if control.settable and control.steps == 0]
    if not left:
        return frozenset()
    before = effect.told_positions()
    for nudge, blocks in ((0.01, 1), (0.37, PATIENCE_BLOCKS)):
        stood = {control.index: control.raw() for control in left}
        for control in left:
            control.put(stood[control.index] + (nudge if stood[control.index] < 0.5 else -nudge))
        for _ in range(blocks):
            settle(effect, channels, rate_hz, block_frames)
        told = effect.told_positions()
        for control in left:
            control.put(stood[control.index])
        settle(effect, channels, rate_hz, block_frames)
        left = [control for control in left if abs(told[control.index] - before[control.index]) <= STUCK]
        if not left:
            break
    return frozenset(control.index for control in left)


def only_shows(number: int, name: str) -> Fault:
    """What is said of a control that was named as a setting. number: which of what was asked."""
    return Fault(number, f"'{name}' only shows a level: it takes no value", "name a setting that can be moved")
