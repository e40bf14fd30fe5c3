"""What the keys of steps rest on: the mixes' sound, the plugins' code, the state files, our own version of sound."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from importlib.metadata import version
from pathlib import Path

from sweeper.audio import file_hash
from sweeper.host.builtin_table import PREFIX
from sweeper.host.bundle import program_of
from sweeper.plan.tree import Facts
from sweeper.plan.variants import Variant
from sweeper.records import SOUND_VERSION
from sweeper.render.job import BLOCK_FRAMES, KnownFile, stamp_of


def known_files(found: Iterable[Variant]) -> dict[str, KnownFile]:
    """The plugins' code and the state files behind a set of variants, by the path that a StageSetup has.

    Raises AudioFileError for a file that is not there.
    """
    setups = {setup for variant in found for setup in variant.stages}
    plugins = {s.path: program_of(s.path) for s in setups if s.path and not s.path.startswith(PREFIX)}
    states = {str(setup.state): setup.state for setup in setups if setup.state}
    return {name: _known(path) for name, path in sorted({**plugins, **states}.items())}


def _known(path: Path) -> KnownFile:
    stamp = stamp_of(path) if path.is_file() else (0, 0)
    return KnownFile(path, file_hash(path), stamp)


def facts_of(found: Iterable[Variant], sources: Sequence[str], known: Mapping[str, KnownFile]) -> Facts:
    """The facts behind a set of variants. sources: the mixes' audio hashes."""
    setups = {setup for variant in found for setup in variant.stages}
    library = f"pedalboard {version('pedalboard')}"
    paths = {setup.path for setup in setups if setup.path}
    programs = {path: path if path.startswith(PREFIX) else known[path].sha256 for path in paths}
    return Facts(
        tuple(sources),
        {path: f"{library} {program}" for path, program in sorted(programs.items())},
        {name: known[name].sha256 for name in sorted(str(s.state) for s in setups if s.state)},
        BLOCK_FRAMES, SOUND_VERSION,
    )  # fmt: skip
