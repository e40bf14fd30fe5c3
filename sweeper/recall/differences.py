"""What is not as it was when a master was made."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sweeper.records import Applied, Sheet, StageRecord

SHORT_HASH = 12


@dataclass(frozen=True)
class Difference:
    """One thing that was otherwise. what: e.g. "'glue' (My Compressor): version"."""

    what: str
    then: str
    now: str


def differences(then: Sheet, now: Sheet) -> tuple[Difference, ...]:
    """Everything recorded of a master that differs from what is recorded of the same one made again.

    Controls that nobody set are left out: plugins keep their meters among them.
    """
    found = [*_source(then, now)]
    for old, new in zip(then.stages, now.stages, strict=True):
        found += of_stage(old, new)
    names = dict.fromkeys([*then.versions, *now.versions])
    versions = ((name, then.versions.get(name, ""), now.versions.get(name, "")) for name in names)
    found += [Difference(_library(name), one, other) for name, one, other in versions if one and one != other]
    return tuple(found)


def _library(name: str) -> str:
    return {"sound": "how sweeper renders (sound version)"}.get(name, name)


def _source(then: Sheet, now: Sheet) -> Iterator[Difference]:
    if then.source.file != now.source.file:
        yield Difference("the mix's file (the music is the same)", then.source.file, now.source.file)
    if then.source.rate_hz != now.source.rate_hz:
        yield Difference("the mix's rate", f"{then.source.rate_hz} Hz", f"{now.source.rate_hz} Hz")
    if then.block_frames != now.block_frames:
        yield Difference("frames in a block", str(then.block_frames), str(now.block_frames))


def of_stage(then: StageRecord, now: StageRecord) -> Iterator[Difference]:
    """Everything of one stage that differs."""
    name = f"'{then.name}' ({then.plugin})"
    pairs = (
        ("plugin", then.plugin, now.plugin), ("version", then.version, now.version),
        ("file", then.path, now.path), ("identifier", then.identifier, now.identifier),
        ("program (SHA-256)", then.program_sha256[:SHORT_HASH], now.program_sha256[:SHORT_HASH]),
        ("state file (the same in content)", then.state_file,
         now.state_file if now.state_sha256 == then.state_sha256 else then.state_file),
        ("state file (SHA-256)", then.state_sha256[:SHORT_HASH], now.state_sha256[:SHORT_HASH]),
        ("delay in frames", str(then.latency_frames), str(now.latency_frames)),
    )  # fmt: skip
    for what, one, other in pairs:
        if one != other:
            yield Difference(f"{name}: {what}", one or "none", other or "none")
    standing = _by_name(now.settings + now.standing)
    for setting in then.settings:
        other_setting = standing.get((setting.side, setting.name))
        if other_setting is None or setting.raw != other_setting.raw or setting.text != other_setting.text:
            place = " ".join(part for part in (setting.side, setting.name) if part)
            yield Difference(f"{name}: {place}", *_told(setting, other_setting))


def _told(then: Applied, now: Applied | None) -> tuple[str, str]:
    """Texts where they differ, else positions."""
    if now is None:
        return then.text, "not there"
    return (then.text, now.text) if then.text != now.text else (repr(then.raw), repr(now.raw))


def _by_name(settings: tuple[Applied, ...]) -> dict[tuple[str, str], Applied]:
    return {(one.side, one.name): one for one in settings}


def moved(then: StageRecord, now: StageRecord) -> tuple[Applied, ...]:
    """The controls that nobody set and that stood elsewhere when `then` was recorded, as they stood then."""
    standing = _by_name(now.standing)
    return tuple(one for one in then.standing
                 if (other := standing.get((one.side, one.name))) is None or other.raw != one.raw)  # fmt: skip
