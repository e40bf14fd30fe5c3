"""Sound files: what is in one, and its samples block by block.

libsndfile decodes; what it hides (a file cut short, samples that are no numbers) is looked for here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper.audio import chunks, mpeg, unreadable
from sweeper.audio.format import AudioFormat
from sweeper.errors import AudioFileError
from sweeper.units import clock

Samples = NDArray[np.float32]

#: Word lengths of encodings that hold integers; the others (float, lossy) have full scale 1.0.
INTEGER_BITS = {
    "PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32,
    "ALAC_16": 16, "ALAC_20": 20, "ALAC_24": 24, "ALAC_32": 32,
    "DPCM_8": 8, "DPCM_16": 16, "DWVW_12": 12, "DWVW_16": 16, "DWVW_24": 24,
}  # fmt: skip
SAMPLE_BYTES = {"PCM_S8": 1, "PCM_U8": 1, "PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}
HASH_BLOCK_FRAMES = 65536
COPY_BYTES = 1 << 20
#: An MP3's frame count may miss what its encoder added at both ends; no more than this is passed over.
MP3_END_S = 0.1
#: Encoder delay, padding and a length frame: some 4 frames of 36 ms, and room.
MP3_EXTRA_S = 0.25


@dataclass(frozen=True)
class SoundFile:
    """What a sound file holds. container: WAV, AIFF, FLAC, ... encoding: PCM_24, FLOAT, VORBIS, ..."""

    path: Path
    format: AudioFormat
    frames: int
    container: str
    encoding: str

    @property
    def duration_s(self) -> float:
        """Seconds from the first frame to the end of the last."""
        return self.frames / self.format.rate_hz


def inspect(path: Path) -> SoundFile:
    """What the file at `path` holds, read from its header.

    Raises AudioFileError when it is missing, not readable, not sound, empty, or shorter than it says.
    """
    try:
        if path.is_dir():
            raise AudioFileError(f"{path}: this is a folder, not a sound file", "name a file inside it")
        if not path.exists():
            raise unreadable.missing(path)
        if not path.is_file():
            raise AudioFileError(f"{path}: this is a device, not a sound file", unreadable.READ_HERE)
        return _inspected(path)
    except OSError as error:
        raise unreadable.forbidden(path, error) from error


def _inspected(path: Path) -> SoundFile:
    extent = chunks.sound_extent(path)
    file = _decoder_view(path)
    if extent is not None and extent.promised_bytes is not None:
        _check_extent(path, extent.there_bytes, extent.promised_bytes, file)
    if file is None:
        raise unreadable.not_sound(path)
    if file.frames == 0:
        raise unreadable.no_sound(path, extent.there_bytes if extent else 0)
    if file.container == "MP3" and file.encoding == "MPEG_LAYER_III":
        _check_mp3(file)
    if file.container == "OGG":
        _check_ogg(path)
    return file


def _decoder_view(path: Path) -> SoundFile | None:
    """What libsndfile says of the file; None when it reads nothing in it."""
    import soundfile

    if path.suffix.lower() == ".raw":
        what = "a .raw file does not say its rate, channels or word length"
        raise AudioFileError(f"{path}: {what}", unreadable.READ_HERE)
    try:
        with soundfile.SoundFile(path) as opened:
            container, encoding = opened.format, opened.subtype
            shape = opened.channels, opened.samplerate, opened.frames
    except soundfile.LibsndfileError:
        with path.open("rb"):  # raises OSError, which says why, where the system is what refuses
            return None
    if container == "RAW":  # guessed from the file's name alone
        return None
    bits = INTEGER_BITS.get(encoding)
    full_scale = 1.0 if bits is None else 1.0 - 2.0 ** (1 - bits)
    return SoundFile(path, AudioFormat(shape[0], shape[1], full_scale), shape[2], container, encoding)


def _check_extent(path: Path, there_bytes: int, promised_bytes: int, file: SoundFile | None) -> None:
    sample_bytes = SAMPLE_BYTES.get(file.encoding, 1) if file else 1
    frame_bytes = sample_bytes * (file.format.channels if file and file.encoding in SAMPLE_BYTES else 1)
    if there_bytes // frame_bytes >= promised_bytes // frame_bytes:
        return
    if file is None or (file.frames == 0 and file.encoding not in SAMPLE_BYTES):
        raise unreadable.too_short(path, f"{there_bytes} bytes", f"{promised_bytes} bytes of sound")
    linear = file.encoding in SAMPLE_BYTES
    bytes_per_s = frame_bytes * file.format.rate_hz if linear else there_bytes / file.duration_s
    there_s, promised_s = there_bytes / bytes_per_s, promised_bytes / bytes_per_s
    raise unreadable.too_short(path, f"{there_s:.3f} s", f"{promised_s:.3f} s")


def _check_mp3(file: SoundFile) -> None:
    stream_s = mpeg.stream_s(file.path)
    if stream_s < file.duration_s - MP3_EXTRA_S:
        raise unreadable.too_short(file.path, f"{stream_s:.3f} s", f"{file.duration_s:.3f} s")
    if stream_s > file.duration_s + MP3_EXTRA_S:
        what = f"it holds {stream_s:.3f} s of sound and its header tells of {file.duration_s:.3f} s"
        raise AudioFileError(f"{file.path}: {what}", "decode it to a WAV file and use that")


def _check_ogg(path: Path) -> None:
    """The last page of an Ogg stream carries the end mark (RFC 3533, section 6: flag 0x04)."""
    with path.open("rb") as handle:
        handle.seek(max(0, path.stat().st_size - 2 * 65307))  # a page is at most 65307 bytes
        tail = handle.read()
    page = tail.rfind(b"OggS")
    if page < 0 or page + 5 >= len(tail) or not tail[page + 5] & 0x04:
        what = "the end of the stream is missing, so some of the music may be"
        raise AudioFileError(f"{path}: {what}", "get it again, or decode it to WAV if you know it is whole")


def blocks(file: SoundFile, block_frames: int, start: int = 0, end: int | None = None) -> Iterator[Samples]:
    """The samples of frames `start` to `end` (not included; None = the last), `block_frames` at a time.

    Each block is float32, C-contiguous, (channels, frames), 1.0 = 0 dBFS; the last may be shorter.
    Raises AudioFileError when a sample is NaN or infinite, or the file gives less than it promised.
    """
    return (np.ascontiguousarray(each.T) for each in _frames_first(file, block_frames, start, end))


def _frames_first(file: SoundFile, block_frames: int, start: int, end: int | None) -> Iterator[Samples]:
    stop = file.frames if end is None else end
    if block_frames < 1 or not 0 <= start <= stop <= file.frames:
        raise ValueError(f"blocks of {block_frames} frames from {start} to {stop} of {file.frames}")
    return _decoded(file, block_frames, start, stop)


def _decoded(file: SoundFile, block_frames: int, start: int, stop: int) -> Iterator[Samples]:
    """Checked blocks of shape (frames, channels), as libsndfile delivers them."""
    import soundfile

    place = start
    try:
        with soundfile.SoundFile(file.path) as opened:
            _check_unchanged(file, opened)
            opened.seek(start)
            while place < stop:
                block = opened.read(min(block_frames, stop - place), dtype="float32", always_2d=True)
                if not len(block):
                    break
                _check_finite(file, block, place)
                yield block
                place += len(block)
    except soundfile.LibsndfileError as error:
        if not file.path.exists():
            raise unreadable.missing(file.path) from error
        raise _stopped(file, place) from error
    if stop - place > (MP3_END_S * file.format.rate_hz if file.container == "MP3" else 0):
        raise _stopped(file, place)


def _stopped(file: SoundFile, place: int) -> AudioFileError:
    what = f"nothing can be read after {clock(place / file.format.rate_hz)} of {clock(file.duration_s)}"
    return AudioFileError(f"{file.path}: the file is damaged: {what}", unreadable.BOUNCE_AGAIN)


def _check_unchanged(file: SoundFile, opened: Any) -> None:
    now = opened.channels, opened.samplerate, opened.frames
    if now != (file.format.channels, file.format.rate_hz, file.frames):
        what = "the file has changed since it was first looked at"
        raise AudioFileError(f"{file.path}: {what}", "let whatever is writing it finish, then start again")


def _check_finite(file: SoundFile, block: Samples, place: int) -> None:
    with np.errstate(over="ignore", invalid="ignore"):
        if np.isfinite(block.sum()):  # one pass; large finite samples may overflow it: then look closely
            return
    frames, channels = np.nonzero(~np.isfinite(block))
    if len(frames):
        frame, channel = int(frames[0]), int(channels[0])
        where = f"{clock((place + frame) / file.format.rate_hz)} (frame {place + frame})"
        value = float(block[frame, channel])
        raise unreadable.not_finite(file.path, channel, file.format.channels, where, value)


def audio_hash(file: SoundFile) -> str:
    """SHA-256, in hex, of rate, channels and samples: the same for the same sound in another wrapping.

    The samples are hashed as interleaved little-endian float32, so a 16-bit file and a 24-bit or FLAC copy of
    it agree. Raises AudioFileError as `blocks` does.
    """
    digest = hashlib.sha256(f"{file.format.rate_hz} Hz {file.format.channels} channels\n".encode("ascii"))
    for block in _frames_first(file, HASH_BLOCK_FRAMES, 0, None):
        digest.update(np.ascontiguousarray(block, dtype="<f4").data)
    return digest.hexdigest()


def file_hash(path: Path) -> str:
    """SHA-256, in hex, of a file's bytes. Raises AudioFileError when it cannot be read."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as handle:
            while part := handle.read(COPY_BYTES):
                digest.update(part)
    except FileNotFoundError as error:
        raise unreadable.missing(path) from error
    except OSError as error:
        raise unreadable.forbidden(path, error) from error
    return digest.hexdigest()
