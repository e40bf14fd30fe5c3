"""What the keys of steps rest on: the mixes' sound, the plugins' code, the state files, our own version of sound."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.metadata import version
from pathlib import Path

from sweeper.audio import file_hash
from sweeper.host.builtin_table import PREFIX
from sweeper.host.bundle import program_of
from sweeper.plan.tree import Facts
from sweeper.plan.variants import Variant
from sweeper.records import SOUND_VERSION
from sweeper.render.job import BLOCK_FRAMES


def facts_of(found: Iterable[Variant], sources: Sequence[str]) -> Facts:
    """The facts behind a set of variants. sources: the mixes' audio hashes.

    Raises AudioFileError for a file that is not there.
    """
    setups = {setup for variant in found for setup in variant.stages}
    states = {str(setup.state): setup.state for setup in setups if setup.state}
    return Facts(
        tuple(sources),
        {path: _program(path) for path in sorted({setup.path for setup in setups})},
        {name: file_hash(path) for name, path in sorted(states.items())},
        BLOCK_FRAMES, SOUND_VERSION,
    )  # fmt: skip


def _program(path: str) -> str:
    """The plugin's code, and the library that hosts it, or holds it."""
    library = f"pedalboard {version('pedalboard')}"
    return f"{library} {path if path.startswith(PREFIX) else file_hash(program_of(Path(path)))}"
