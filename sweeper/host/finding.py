"""What a stage was found to do that is not meant, as plain values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """Something about a stage that an engineer should know.

    kind: "silent", "dry", "bursts" or "drop-outs". words: what it did, to stand behind the stage's name: "put out
    silence". at_s: where in the mix, each stretch's beginning, all of them; () = throughout.
    """

    kind: str
    words: str
    at_s: tuple[float, ...] = ()
