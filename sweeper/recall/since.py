"""What is as it was when a master was made, and what has changed since."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sweeper.recall.differences import Difference, differences, of_stage
from sweeper.records import Sheet, StageRecord

#: Of `versions`: what is ours, what the machine is, and what is beneath us.
OURS, MACHINE = ("sweeper", "sound"), ("system", "processor")


@dataclass(frozen=True)
class Since:
    """same: what has not changed, in words. changed: everything recorded that has."""

    same: tuple[str, ...]
    changed: tuple[Difference, ...]

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        return {"same": list(self.same),
                "changed": [{"what": d.what, "then": d.then, "now": d.now} for d in self.changed]}  # fmt: skip


def since(then: Sheet, now: Sheet) -> Since:
    """What one sheet and another of the same settings have in common, and what not."""
    return Since(tuple(_same(then, now)), differences(then, now))


def _same(then: Sheet, now: Sheet) -> Iterator[str]:
    if then.source.audio_sha256 == now.source.audio_sha256:
        yield f"the mix, every sample of it, at {then.source.rate_hz} Hz"
    pairs = zip(then.stages, now.stages, strict=True)
    kept = [one for one, other in pairs if not one.bypass and not tuple(of_stage(one, other))]
    if kept:
        yield "plugin, code, state and settings of " + ", ".join(map(_named, kept))
    for words, names in (("sweeper", OURS), ("the machine", MACHINE)):
        told = [then.versions[name] for name in names if _alike(then, now, name)]
        if len(told) == len(names):
            yield f"{words} ({', '.join(_plain(name, then) for name in names)})"
    libraries = [name for name in then.versions if name not in (*OURS, *MACHINE)]
    if libraries and all(_alike(then, now, name) for name in libraries):
        yield f"what is beneath it ({', '.join(f'{name} {then.versions[name]}' for name in libraries)})"


def _alike(then: Sheet, now: Sheet, name: str) -> bool:
    return name in then.versions and then.versions[name] == now.versions.get(name)


def _plain(name: str, sheet: Sheet) -> str:
    value = sheet.versions[name]
    return f"sound version {value}" if name == "sound" else value


def _named(stage: StageRecord) -> str:
    if not stage.plugin:
        return f"'{stage.name}'"
    builtin = stage.path.startswith("builtin:")
    return f"'{stage.name}' ({' '.join(w for w in (stage.plugin, '' if builtin else stage.version) if w)})"
