"""Setting a plugin's controls: by name, in range, read back after settling, recorded as read."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence

from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.records.sheet import Applied
from sweeper.units import folded

#: How far a position may come back from where it was put and still count as the same (32-bit floats).
STUCK = 2e-6
#: Blocks of silence given to a setting that glides before it is said not to stick.
PATIENCE_BLOCKS = 16

#: By the plugin's own word, which is dear to ask: so many blocks before it is asked again, and then so many more.
PATIENCE_ROUNDS = (PATIENCE_BLOCKS, 4 * PATIENCE_BLOCKS)


def control_named(controls: Sequence[Control], name: str) -> Control:
    """The control that the plugin shows as `name`, case and spaces forgiven.

    Raises SettingError with the nearest names when there is none, or when it is not the engineer's to set.
    """
    usable = [control for control in controls if control.settable]
    for key in (str, folded):
        found = [control for control in usable if key(control.name) == key(name)]
        if len(found) == 1:
            return found[0]
    twins = [c.name for c in usable if folded(c.name).startswith(folded(name) + "(")]
    if twins:
        raise SettingError(f"several settings are called '{name}'", "write " + " or ".join(f"'{t}'" for t in twins))
    names = {folded(c.name): c.name for c in usable}
    near = difflib.get_close_matches(folded(name), names, n=3, cutoff=0.55)
    if near:
        remedy = "did you mean " + " or ".join(f"'{names[n]}'" for n in near) + "?"
    else:
        listed = [c.name for c in usable]
        remedy = "it has: " + ", ".join(listed[:24]) + (" ..." if len(listed) > 24 else "")
    raise SettingError(f"no setting is called '{name}'", remedy)


def put_and_read(positions: Sequence[tuple[Control, float, str]], side: str,
                 run_silence: Callable[[], None]) -> tuple[Applied, ...]:  # fmt: skip
    """Move each control to its position, settle, read back. Raises SettingError when one did not stick."""
    for control, raw, _ in positions:
        control.put(raw)
    for _ in range(PATIENCE_BLOCKS):
        run_silence()
        if not any(_strayed(control, raw) for control, raw, _ in positions):
            break
    for control, raw, text in positions:
        if _strayed(control, raw):
            raise _not_stuck(control.name, text, control.text_at(control.raw()))
    return tuple(
        Applied(control.name, control.index, side, text, control.raw(), control.text_at(control.raw()))
        for control, _, text in positions
    )


def confirm(controls: Sequence[Control], made: Sequence[Applied], told: Mapping[int, float]) -> None:
    """Hold what was read back against the plugin's own word. Raises SettingError for one that did not stick.

    told: where the plugin says that its controls stand, by index.
    """
    by_index = {control.index: control for control in controls}
    for applied in made:
        control, says = by_index[applied.index], told.get(applied.index, applied.raw)
        if abs(says - applied.raw) > STUCK and control.text_at(says) != applied.text:
            raise _not_stuck(applied.name, applied.asked, control.text_at(says))


def confirm_settled(controls: Sequence[Control], made: Sequence[Applied], told: Callable[[], Mapping[int, float]],
                    run_silence: Callable[[], None]) -> int:  # fmt: skip
    """As `confirm`, with patience: how many blocks of silence the settings took to come to where they were put.

    told: asks the plugin; run_silence: a block. 0 = they were there at once. What is not there after all rounds of
    PATIENCE_ROUNDS did not stick: SettingError.
    """
    waited = 0
    for blocks in PATIENCE_ROUNDS:
        try:
            confirm(controls, made, told())
        except SettingError:
            for _ in range(blocks):
                run_silence()
            waited += blocks
        else:
            return waited
    confirm(controls, made, told())
    return waited


def _not_stuck(name: str, asked: str, stands: str) -> SettingError:
    return SettingError(
        f"'{name}' did not stick: set to {asked}, the plugin then showed {stands}",
        "another setting may hold it; set it in the plugin's own window and use a state file",
    )


def _strayed(control: Control, raw: float) -> bool:
    stands = control.raw()
    return abs(stands - raw) > STUCK and control.text_at(stands) != control.text_at(raw)
