"""What a plugin's controls show, remembered from one look to the next: some plugins take minutes to be asked.

A JSON file for each plugin, named after the hash of its program file. What a setting shows may hang on another setting,
so nothing remembered is used before the living plugin has shown the same at three places, and a position that was found
by it is asked of the plugin itself before it is given out.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from sweeper.audio import file_hash
from sweeper.audio.placing import replace_text
from sweeper.errors import AudioFileError, SettingError
from sweeper.host.builtin_table import PREFIX
from sweeper.host.bundle import program_of
from sweeper.host.control import Control
from sweeper.host.remembered import remembered_file

#: Texts kept of a control: its 65 places of looking, and what searching for some ten numbers asks.
MOST_TEXTS = 1200
_SCHEMA = 1


class TabledControl:
    """A control whose texts are asked of the plugin once, and then known; otherwise the control itself."""

    def __init__(self, control: Control, known: Mapping[float, str]) -> None:
        self._control = control
        self._known = dict(known)
        self._to_be_tried = bool(known)
        self.remembers = bool(known)
        self.has_news = False
        self.name = control.name
        self.unit = control.unit
        self.index = control.index
        self.steps = control.steps
        self.settable = control.settable
        self.automatable = control.automatable

    @property
    def texts(self) -> Mapping[float, str]:
        """Every text that is known, by position."""
        return self._known

    def raw(self) -> float:
        """Where the control stands."""
        return self._control.raw()

    def put(self, raw: float) -> None:
        """Move the control to `raw`."""
        self._control.put(raw)

    def text_at(self, raw: float) -> str:
        """What the plugin shows at `raw`, as remembered where it still shows what is remembered."""
        if self._to_be_tried:
            self._to_be_tried = False
            if not all(self.agrees(place) for place in _spots(self._known)):
                self.forget()
        if raw not in self._known:
            text = self._control.text_at(raw)
            if len(self._known) >= MOST_TEXTS:
                return text
            self._known[raw] = text
            self.has_news = True
        return self._known[raw]

    def agrees(self, raw: float) -> bool:
        """Whether the plugin itself shows at `raw` what is remembered; True where nothing is."""
        return raw not in self._known or self._control.text_at(raw) == self._known[raw]

    def forget(self) -> None:
        """Ask the plugin itself from now on."""
        self._known.clear()
        self.remembers = False
        self.has_news = True


def texts_folder() -> Path:
    """Where texts are remembered: beside what else is known of the plugins."""
    return remembered_file().parent / "texts"


@contextmanager
def tabled(path: str, controls: Sequence[Control], folder: Path | None) -> Iterator[tuple[Control, ...]]:
    """The controls with what is remembered of the plugin at `path` in `folder`; what is asked meanwhile is remembered.

    Built-in effects answer at once and are not remembered, nor is anything where folder is None. A damaged file is
    written anew; one that cannot be written costs the next look its time, and no more.
    """
    file = None if folder is None or path.startswith(PREFIX) else _file(folder, path)
    if file is None:
        yield tuple(controls)
        return
    known = _read(file)
    made = tuple(TabledControl(control, known.get(_key(control), {})) for control in controls)
    try:
        yield made
    finally:
        if news := {_key(control): control.texts for control in made if control.has_news}:
            with suppress(OSError):
                _write(file, {**_read(file), **news})


def found_by(control: Control, find: Callable[[Control], float]) -> float:
    """The position that `find` finds for a control, by remembered texts where the plugin itself agrees.

    Raises SettingError as `find` does: a refusal is always the plugin's own.
    """
    if not isinstance(control, TabledControl) or not control.remembers:
        return find(control)
    with suppress(SettingError):
        raw = find(control)
        if control.agrees(raw):
            return raw
    control.forget()
    return find(control)


def _spots(known: Mapping[float, str]) -> tuple[float, ...]:
    """Three of the positions known: the ends are the same in many a unit, so they are taken from between."""
    places = sorted(known)
    return tuple(dict.fromkeys(places[len(places) * quarter // 4] for quarter in (1, 2, 3)))


def _key(control: Control) -> str:
    return f"{control.index} {control.steps} {control.unit} {control.name}"


def _file(folder: Path, path: str) -> Path | None:
    program = program_of(path)
    try:
        found = program.stat()
        code = _hash(program, found.st_size, found.st_mtime_ns)
    except (OSError, AudioFileError):  # no file by itself: nothing to tell its versions by
        return None
    return folder / f"{hashlib.sha256(f'{code} {path}'.encode()).hexdigest()[:40]}.json"


@lru_cache
def _hash(program: Path, size_bytes: int, time_ns: int) -> str:
    return file_hash(program)


def _read(file: Path) -> dict[str, dict[float, str]]:
    try:
        data = json.loads(file.read_text("utf-8"))
        return {key: _texts(pairs) for key, pairs in data["controls"].items()} if data["schema"] == _SCHEMA else {}
    except (OSError, ValueError, KeyError, AttributeError, TypeError):  # the plugin is asked, which costs its time
        return {}


def _texts(pairs: Any) -> dict[float, str]:
    return {float(raw): str(text) for raw, text in pairs}


def _write(file: Path, known: Mapping[str, Mapping[float, str]]) -> None:
    """Beside its place, then renamed: of two processes at once the later one's stands, whole."""
    controls = {key: sorted(texts.items()) for key, texts in known.items()}
    file.parent.mkdir(parents=True, exist_ok=True)
    replace_text(file, json.dumps({"schema": _SCHEMA, "controls": controls}, ensure_ascii=False) + "\n")
