"""What pieces of a mix foretell of the whole, for chains of known law."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sweeper.meter.excerpts import pieces
from sweeper.meter.foretold import foretold_powers
from sweeper.meter.gating import integrated
from sweeper.meter.gating_blocks import Blocks


def music(seed, tenths=1800):
    """Parts of different loudness, and peaks that do not follow it alone: made up."""
    drawn = np.random.default_rng(seed)
    parts = np.repeat(drawn.uniform(-35, -14, tenths // 90), 90)
    loudness_db = parts + np.convolve(drawn.normal(0, 4, tenths), np.ones(4) / 4, "same")
    peaks_db = loudness_db + 11 + drawn.normal(0, 2, tenths)
    return Blocks(10 ** (loudness_db / 10), 10 ** (peaks_db / 20))


def limiter(blocks, drive_db):
    """Brings peaks over -1 dB down to it, and the block with them."""
    over_db = np.maximum(20 * np.log10(blocks.peaks) + drive_db + 1, 0)
    return blocks.powers * 10 ** ((drive_db - over_db) / 10)


def foretold_lufs(mix, chain):
    chosen = [piece.blocks for piece in pieces(mix)]
    heard = Blocks(np.concatenate([mix.powers[one] for one in chosen]),
                   np.concatenate([mix.peaks[one] for one in chosen]))  # fmt: skip
    return integrated(foretold_powers(mix, heard, chain(heard))).value


@pytest.mark.parametrize("seed", range(2))
def test_a_gain_is_foretold_to_the_bit_of_a_decibel(seed):
    mix = music(seed)
    assert foretold_lufs(mix, lambda b: b.powers * 4.0) == pytest.approx(
        integrated(mix.powers).value + 10 * math.log10(4.0), abs=1e-6)  # fmt: skip


@pytest.mark.parametrize("drive_db", [3.0, 6.0, 9.0, 12.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_limiter_is_foretold_within_a_fifth(seed, drive_db):
    mix = music(seed)
    real = integrated(limiter(mix, drive_db)).value
    plain = integrated(mix.powers).value + drive_db
    assert foretold_lufs(mix, lambda b: limiter(b, drive_db)) == pytest.approx(real, abs=0.2)
    assert drive_db < 9 or plain - real > 1.0, "it has something to foretell"


def test_the_gate_works_on_what_is_foretold():
    """ITU-R BS.1770-5 Annex 1: what is 10 LU under the loud part counts only once a chain lifts it."""
    mix = Blocks(np.repeat([1e-1, 4e-3], 900), np.repeat([0.9, 0.2], 900))

    def lifted(blocks):
        return np.where(blocks.powers < 1e-2, blocks.powers * 10, blocks.powers)

    assert foretold_lufs(mix, lifted) == pytest.approx(integrated(lifted(mix)).value, abs=0.01)
    assert integrated(lifted(mix)).value < integrated(mix.powers).value - 1


def test_pieces_below_the_gate_foretell_nothing():
    soft = Blocks(np.full(10, 1e-9), np.full(10, 1e-4))
    with pytest.raises(ValueError, match="-70 LUFS"):
        foretold_powers(soft, soft, soft.powers)
