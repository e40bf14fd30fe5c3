"""Reading and writing sound files; the only room that transposes."""

from sweeper.audio.broadcast import BroadcastTag, moved, pack, read_tag, unpack
from sweeper.audio.files import SoundFile, audio_hash, blocks, file_hash, inspect
from sweeper.audio.format import AudioFormat, Word
from sweeper.audio.gain_copy import write_gained
from sweeper.audio.wav import WavWriter

__all__ = [
    "AudioFormat",
    "BroadcastTag",
    "SoundFile",
    "WavWriter",
    "Word",
    "audio_hash",
    "blocks",
    "file_hash",
    "inspect",
    "moved",
    "pack",
    "read_tag",
    "unpack",
    "write_gained",
]
