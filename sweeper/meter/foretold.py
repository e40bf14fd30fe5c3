"""What a chain would make of the loudness of a whole mix, from what it made of some pieces of it."""

from __future__ import annotations

from typing import cast

import numpy as np

from sweeper.meter.gating import ABSOLUTE_GATE_POWER
from sweeper.meter.gating_blocks import Blocks
from sweeper.meter.grid import Doubles

#: How far apart two blocks may be to count as alike, in dB of their loudness and of their peaks. By trial.
ALIKE_DB = (1.0, 1.5)
#: Blocks of the mix that lie so near to each other, in dB, are taken as one.
GRID_DB = 0.5
#: How strongly the gain is held to be the same all around, where the pieces say little of how it runs.
FLATNESS = 0.5
#: Blocks further off than this count no less, so that there is always one that counts.
FARTHEST = 30.0


def foretold_powers(mix: Blocks, pieces: Blocks, made: Doubles) -> Doubles:
    """The powers that all blocks of a mix would have behind the chain, (blocks,).

    pieces: blocks of the mix that went through the chain; made: the powers that it gave them, (blocks of the pieces,).
    What it gains or takes is looked up for a block's loudness and peak among those of the pieces, by a local straight
    line (locally weighted regression; Cleveland 1979). Raises ValueError when no block is above the gate of -70 LUFS.
    """
    heard = (pieces.powers > ABSOLUTE_GATE_POWER) & (made > 0)
    if not heard.any():
        raise ValueError("nothing of the pieces is louder than -70 LUFS")
    gains = _db(made[heard]) - _db(pieces.powers[heard])
    audible = mix.powers > ABSOLUTE_GATE_POWER
    places, which = np.unique(np.round(_places(mix)[audible] / GRID_DB).astype(np.int64), axis=0, return_inverse=True)
    found = np.array([_gain_at(place * GRID_DB, _places(pieces)[heard], gains) for place in places])
    powers = mix.powers.copy()
    powers[audible] *= 10 ** (found[which.reshape(-1)] / 10)
    return powers


def _places(blocks: Blocks) -> Doubles:
    """Where blocks stand, (blocks, 2): their loudness and their peak, in dB."""
    return np.stack([_db(blocks.powers), 2 * _db(blocks.peaks)], axis=1)


def _db(powers: Doubles) -> Doubles:
    return cast(Doubles, 10 * np.log10(np.maximum(powers, 1e-20)))


def _gain_at(place: Doubles, places: Doubles, gains: Doubles) -> float:
    away = places - place
    far = np.square(away / ALIKE_DB).sum(axis=1)
    weights = np.exp(-0.5 * np.minimum(far - far.min(), FARTHEST))
    lines = np.column_stack([np.ones(len(away)), away])
    weighted = lines * weights[:, None]
    held = np.diag([1e-9, FLATNESS, FLATNESS])
    return float(np.linalg.solve(weighted.T @ lines + held, weighted.T @ gains)[0])
