"""What a parent asks of the worker behind an open window: files in a folder of theirs, there or not there."""

from __future__ import annotations

from pathlib import Path

#: Where the worker keeps the state while the window is open.
KEPT = "kept.vstpreset"


class Signs:
    """The signs in one folder; the parent gives them, the worker looks."""

    def __init__(self, folder: Path) -> None:
        self._close = folder / "close"
        self._bypass = folder / "bypass"
        self.kept = folder / KEPT

    @property
    def close_asked(self) -> bool:
        """Whether the window is to close."""
        return self._close.exists()

    @property
    def bypassed(self) -> bool:
        """Whether the stage is to be bypassed."""
        return self._bypass.exists()

    def ask_to_close(self) -> None:
        """Close the window, from outside."""
        self._close.touch()

    def toggle_bypass(self) -> None:
        """Bypass the stage, or bring it back."""
        if self._bypass.exists():
            self._bypass.unlink()
        else:
            self._bypass.touch()

    def keep(self, state: bytes) -> None:
        """Keep the state as it stands: whole, or the one before."""
        part = self.kept.with_suffix(".part")
        part.write_bytes(state)
        part.replace(self.kept)

    @property
    def told(self) -> str:
        """Where the kept state is, as the end of a message; "" where none was kept."""
        if not self.kept.exists():
            return ""
        return f"; the state as it stood at most some seconds before is kept in {self.kept}"
