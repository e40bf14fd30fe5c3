"""An archive that was written, on the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.markup import escape

from sweeper.cli.lines import say
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.recall.archive import Archived
from sweeper.recall.contents import Packed


def show_archive(found: Packed, made: Archived, proof: Mapping[str, Any] | None) -> None:
    """What is in it, that it was looked at, and what it takes to use it."""
    console = out()
    say(console, f"{shown_path(made.path)}: {made.files} files, {_size(made.bytes)}; unpacked elsewhere, and every "
        "checksum holds")  # fmt: skip
    for line in _inside(found):
        say(console, f"  {line}")
    if proof is not None:
        say(console, f"proven: variant {proof['variant']} was recalled from it in a fresh process with an empty store: "
            f"{proof['verdict']}")  # fmt: skip
    for note in found.notes:
        say(console, f"note: {note}")
    name, variant = found.run.name, next(iter(found.contents.renders or found.contents.variants))
    say(console, "\nplugins are not in it. Where it is unpacked:")
    console.print(f"    sweeper recall {escape(name)}/variants/{variant}", soft_wrap=True)


def answer(found: Packed, made: Archived, proof: Mapping[str, Any] | None) -> Mapping[str, object]:
    """An archive for JSON."""
    return {
        "schema": 1, "archive": str(made.path), "run": found.run.name, "files": made.files, "bytes": made.bytes,
        "unpacked_bytes": made.unpacked_bytes, "variants": list(found.contents.variants),
        "renders": list(found.contents.renders),
        "elsewhere": [{"kind": f.kind, "original": f.original, "inside": f.inside} for f in found.contents.files],
        "proof": None if proof is None else {key: proof[key] for key in ("variant", "verdict", "identical", "null")},
        "notes": list(found.notes),
    }  # fmt: skip


def _inside(found: Packed) -> list[str]:
    contents = found.contents
    kinds = {kind: sum(f.kind == kind for f in contents.files) for kind in ("mix", "reference", "state")}
    renders = f"the sound of {len(contents.renders)}" if contents.renders else "without sound"
    return [f"{_many(len(contents.variants), 'recall sheet')}, {renders}",
            ", ".join(_many(count, kind) for kind, count in kinds.items() if count)]  # fmt: skip


def _many(count: int, what: str) -> str:
    more = {"mix": "mixes"}.get(what, f"{what}s")
    return f"{count} {what if count == 1 else more}"


def _size(bytes_: int) -> str:
    for unit, size in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if bytes_ >= size:
            return f"{bytes_ / size:.1f} {unit}"
    return f"{bytes_} bytes"
