"""What an album asks of its mixes, on worked examples."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.plan.album import below_target_lu, relations_in_words

TEXT = """
mixes: [a.wav, b.wav, c.wav]
album: {album}
output: [{{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, ceiling: ceiling db}}]
reach: [{{loudness: -14 LUFS, by: limiter.drive}}, {{true peak: at most -1 dBTP, by: limiter.ceiling}}]
"""


@pytest.fixture
def album(tmp_path: Path):
    for name in ("a.wav", "b.wav", "c.wav"):
        (tmp_path / name).write_bytes(b"")

    def read(policy: str):
        (tmp_path / "c.yaml").write_text(TEXT.format(album=policy))
        return load_chain(tmp_path / "c.yaml")

    return read


@pytest.mark.parametrize(
    ("lufs", "below"),
    [
        # AES TD1008.1.21-9 (2021), Table 1: an album is turned by one gain, its loudest track to -14 LUFS.
        ((-21.0, -16.0, -18.5), (5.0, 0.0, 2.5)),
        ((-16.0, -16.0, -16.0), (0.0, 0.0, 0.0)),
        ((-30.0, None, -20.0), (10.0, 0.0, 0.0)),
        ((None, None, None), (0.0, 0.0, 0.0)),
    ],
)
def test_the_loudest_is_on_target_and_the_differences_stay(album, lufs, below):
    assert below_target_lu(album("keep relations"), lufs) == below
    assert below_target_lu(album("each to target"), lufs) == (0.0, 0.0, 0.0)


def test_where_each_mix_is_to_land_is_said_for_levels_and_not_for_peaks(album):
    said = ("the album keeps its relations, loudness in LUFS: a.wav -19.0, b.wav -14.0, c.wav -16.5",)
    assert relations_in_words(album("keep relations"), (-21.0, -16.0, -18.5)) == said
    assert relations_in_words(album("each to target"), (-21.0, -16.0, -18.5)) == ()


def test_a_mix_with_a_loudness_of_its_own_takes_no_part_in_the_relations(album, tmp_path):
    album("keep relations")
    loudest = "{file: b.wav, reach: {loudness: -9 LUFS, true peak: at most -2 dBTP}}"
    text = TEXT.format(album="keep relations")
    (tmp_path / "c.yaml").write_text(text.replace("b.wav", loudest))
    chain = load_chain(tmp_path / "c.yaml")
    assert below_target_lu(chain, (-21.0, -16.0, -18.5)) == (2.5, 0.0, 0.0), "c is the loudest of those that keep them"
    assert relations_in_words(chain, (-21.0, -16.0, -18.5)) == (
        "the album keeps its relations, loudness in LUFS: a.wav -16.5, c.wav -14.0",)  # fmt: skip
    peaks = text.replace("b.wav", "{file: b.wav, reach: {true peak: at most -2 dBTP}}")
    (tmp_path / "c.yaml").write_text(peaks)
    assert below_target_lu(load_chain(tmp_path / "c.yaml"), (-21.0, -16.0, -18.5)) == (5.0, 0.0, 2.5)


def test_where_every_mix_has_a_loudness_of_its_own_there_are_no_relations(album, tmp_path):
    album("keep relations")
    text = TEXT.format(album="keep relations")
    for name in ("a.wav", "b.wav", "c.wav"):
        text = text.replace(name, f"{{file: {name}, reach: {{loudness: -9 LUFS}}}}")
    (tmp_path / "c.yaml").write_text(text)
    chain = load_chain(tmp_path / "c.yaml")
    assert below_target_lu(chain, (-21.0, -16.0, -18.5)) == (0.0, 0.0, 0.0)
    assert relations_in_words(chain, (-21.0, -16.0, -18.5)) == ()
