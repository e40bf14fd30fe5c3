"""How many of what is tried on excerpts is rendered."""

from __future__ import annotations

from pathlib import Path

import pytest
from exploring import chain_of

from sweeper.plan.in_full import in_full

TEXT = """mix: a.wav
output: {name: limiter, plugin: Brick}
vary: {limiter.Release: [1 ms, 2 ms]}
prefer: [crest highest]
"""


@pytest.mark.parametrize(
    ("more", "tried", "rendered"),
    [
        ("explore: {variants: 60, listen to: excerpts}", 60, 6),
        ("explore: {variants: 60, listen to: excerpts}\naudition: {keep: 2}", 60, 6),
        ("explore: {variants: 60, listen to: excerpts}\naudition: {keep: 6}", 60, 12),
        ("explore: {variants: 60, listen to: excerpts}\naudition: {keep: 6}", 7, 7),
        ("explore: {variants: 60}", 60, 60),
        ("", 2, 2),
    ],
)
def test_twice_what_is_kept_and_six_at_least(tmp_path: Path, more: str, tried: int, rendered: int):
    assert in_full(chain_of(tmp_path, f"{TEXT}{more}\n"), tried) == rendered
