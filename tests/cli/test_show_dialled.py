"""What is said of a window that was closed: what is written, and what is as it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.cli.dial import _show
from sweeper.dial.dialled import Dialled

STATE, COPY = Path("states/glue.vstpreset"), Path("t.before-dial.yaml")


@pytest.mark.parametrize(
    ("state", "copy", "lines"),
    [
        (None, None, ["nothing was dialled, and nothing is written"]),
        (STATE, None, ["states/glue.vstpreset is written; t.yaml is as it was", "note: why"]),
        (STATE, COPY, ["no setting was moved, but the plugin's state is another one",
                       "states/glue.vstpreset is written, and t.yaml names it; as it was: t.before-dial.yaml",
                       "note: why"]),
    ],
)  # fmt: skip
def test_what_is_written_is_said(state, copy, lines, capsys):
    _show(Dialled(Path("t.yaml"), "glue", "", state, copy, (), ("why",)))
    assert capsys.readouterr().out.replace("\\", "/").splitlines() == lines
