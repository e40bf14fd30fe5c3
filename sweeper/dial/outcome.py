"""What stands once a window is closed, into a state file and the chain file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sweeper.dial.choosing import Chosen, decided_elsewhere
from sweeper.dial.dialled import Changed, Dialled
from sweeper.dial.keeping import STATES, keep_state, rewrite
from sweeper.dial.orders import Closed, Moved, Work
from sweeper.dial.signs import Signs
from sweeper.errors import Interrupted, RunFolderError


def kept(picked: Chosen, closed: Closed, notes: tuple[str, ...], interrupted: bool, signs: Signs) -> Dialled:
    """Keep the state and put it into the chain file, with the settings that stand there. Writes nothing when nothing
    was dialled, and the state alone when that cannot be told.

    Raises RunFolderError or ChainFileError, with the state's place when that is written; Interrupted after Ctrl-C,
    when only the state is kept. signs: whose folder has the state for as long as it is nowhere else.
    """
    chain, stage = picked.chain, picked.stage
    if closed.work is Work.NONE:
        if interrupted:
            raise Interrupted("stopped; nothing was dialled", "the chain file is as it was")
        return Dialled(chain.path, stage.name, stage.label, None, None, (), notes)
    state = _kept_state(picked, closed, signs)
    if interrupted:
        raise Interrupted(f"stopped; what was dialled is kept in {state}, the chain file is as it was",
                          f"to use it, write into {picked.called}: state: {STATES}/{state.name}")  # fmt: skip
    if closed.work is Work.UNKNOWN:
        doubt = (f"no setting was moved, and the plugin's state changes by itself while it plays: if something else "
                 f"was dialled, write into {picked.called}: state: {STATES}/{state.name}; else delete that file")
        return Dialled(chain.path, stage.name, stage.label, state, None, (), (*notes, doubt))
    values = _values(picked, closed)
    try:
        copy = rewrite(chain, stage, state, {key: moved.written for key, moved in values.items()})
    except RunFolderError as exc:
        raise RunFolderError(f"{exc.what}; what was dialled is kept in {state}", exc.remedy) from exc
    told = {moved.name: moved.written for moved in values.values()}
    changed = tuple(Changed(moved, told.get(moved.name, "")) for moved in closed.moved)
    notes = (*notes, *closed.notes, *_left_alone(picked, closed))
    return Dialled(chain.path, stage.name, stage.label, state, copy, changed, notes)


def _kept_state(picked: Chosen, closed: Closed, signs: Signs) -> Path:
    """The state beside the chain file; where that cannot be, in the signs' folder, which the error tells."""
    try:
        state = keep_state(picked.chain, picked.stage, closed.state)
    except RunFolderError as exc:
        signs.keep(closed.state)
        raise RunFolderError(f"{exc.what}{signs.told}", exc.remedy) from exc
    signs.kept.unlink(missing_ok=True)
    return state


def _values(picked: Chosen, closed: Closed) -> dict[tuple[str, str], Moved]:
    """The settings that stand in the chain file and were dialled, but for those that `vary` or `reach` decide."""
    elsewhere = {closed.controls.get(name) for name in decided_elsewhere(picked)}
    moved = {one.name: one for one in closed.moved}
    return {
        (a.side, a.name): moved[closed.controls[a.name]]
        for a in picked.own_settings
        if closed.controls.get(a.name) in moved and closed.controls[a.name] not in elsewhere
    }


def _left_alone(picked: Chosen, closed: Closed) -> Iterator[str]:
    moved = {one.name for one in closed.moved}
    for name, how in decided_elsewhere(picked).items():
        if closed.controls.get(name) in moved:
            yield f"'{closed.controls[name]}' was dialled, but is {how} in the chain file, which decides"
    if len(picked.stage.channels.sides) > 1:
        yield f"the window was that of the {picked.side} side; its state is for every side"
