"""A folder with mixes, and ways to load a chain file written into it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sweeper.chain import Chain, load_chain
from sweeper.errors import ChainFileError, Problem

FILES = ("a.wav", "b.wav", "lantern-bay.wav", "a-record-the-client-likes.wav", "song #2.wav", "“heroes”.wav")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with mixes in it; chain files are named from it as a user would."""
    for name in FILES:
        (tmp_path / name).touch()
    (tmp_path / "states").mkdir()
    (tmp_path / "from tape").mkdir()
    for name in ("glue", "valve", "limiter"):
        (tmp_path / "states" / f"{name}.vstpreset").touch()
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def load(folder: Path) -> Callable[[str | bytes], Chain]:
    """Load a chain file with this content."""

    def loaded(content: str | bytes) -> Chain:
        data = content if isinstance(content, bytes) else content.encode()
        (folder / "album.chain.yaml").write_bytes(data)
        return load_chain(Path("album.chain.yaml"))

    return loaded


@pytest.fixture
def problems(load: Callable[[str | bytes], Chain]) -> Callable[[str | bytes], tuple[Problem, ...]]:
    """The faults of a chain file with this content, which must have some."""

    def found(content: str | bytes) -> tuple[Problem, ...]:
        with pytest.raises(ChainFileError) as error:
            load(content)
        return error.value.problems

    return found
