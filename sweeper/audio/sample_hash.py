"""The hash of a file's samples alone, as recall sheets hold it of what was rendered."""

from __future__ import annotations

import hashlib

import numpy as np

from sweeper.audio.files import SoundFile, blocks

BLOCK_FRAMES = 65536


def sample_hash(file: SoundFile) -> str:
    """SHA-256, in hex, of the samples as interleaved little-endian float32. Raises AudioFileError as `blocks` does."""
    digest = hashlib.sha256()
    for block in blocks(file, BLOCK_FRAMES):
        digest.update(np.ascontiguousarray(block.T, "<f4").data)
    return digest.hexdigest()
