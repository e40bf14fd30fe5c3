"""Why a sound file cannot be used, in words: what is wrong and what to do."""

from __future__ import annotations

import difflib
import unicodedata
from pathlib import Path

from sweeper.audio.chunks import layout_of
from sweeper.errors import AudioFileError

READ_HERE = "WAV, RF64, AIFF, FLAC, OGG, CAF, W64, AU and MP3 files can be read: bounce it as WAV"
BOUNCE_AGAIN = "bounce or copy it again, whole"
#: How other files begin: (offset, bytes, what it is).
FOREIGN = (
    (4, b"ftyp", "an MP4 or M4A file (AAC or ALAC)"),
    (0, b"BW64", "a BW64 file"),
    (0, b"DSD ", "a DSD file"),
    (0, b"FRM8", "a DSD file"),
    (0, b"wvpk", "a WavPack file"),
    (0, b"PK\x03\x04", "a ZIP archive"),
    (0, b"%PDF", "a PDF document"),
    (0, b"\x89PNG", "a picture"),
    (0, b"\xff\xd8\xff", "a picture"),
    (0, b"\x1aE\xdf\xa3", "a Matroska or WebM file"),
)


def missing(path: Path) -> AudioFileError:
    """No such file: names the nearest name in that folder, when there is one."""
    if not path.parent.is_dir():
        return AudioFileError(f"{path}: there is no folder {path.parent}", "check the path")
    names = {unicodedata.normalize("NFC", each.name): each.name for each in path.parent.iterdir()}
    wanted = unicodedata.normalize("NFC", path.name)
    if wanted in names:
        remedy = "its accents are stored in another form: copy the name of the file from the folder"
        return AudioFileError(f"{path}: there is no such file", remedy)
    lower = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(wanted.casefold(), lower, n=1)
    nothing = f"check the name; nothing in {path.parent} resembles it"
    remedy = f"did you mean {lower[near[0]]}?" if near else nothing
    return AudioFileError(f"{path}: there is no such file", remedy)


def forbidden(path: Path, error: OSError) -> AudioFileError:
    """The system will not let us read the file."""
    if isinstance(error, PermissionError):
        remedy = (
            "allow yourself to read it, or copy it elsewhere"
            " (on a Mac see also System Settings, Privacy & Security, Files and Folders)"
        )
        return AudioFileError(f"{path}: you have no permission to read it", remedy)
    what = f"it cannot be read ({error.strerror or error})"
    return AudioFileError(f"{path}: {what}", "check the disk it is on, or copy it elsewhere")


def not_sound(path: Path) -> AudioFileError:
    """The file is there and readable, but no sound can be made of it. Raises OSError."""
    with path.open("rb") as handle:
        start = handle.read(4096)
    if not start:
        return AudioFileError(f"{path}: the file is empty (0 bytes)", BOUNCE_AGAIN)
    layout = layout_of(start)
    if layout is not None:
        what = f"it begins like a {layout.kind} file, but its header is cut short or damaged"
        return AudioFileError(f"{path}: {what} ({path.stat().st_size} bytes in all)", BOUNCE_AGAIN)
    for offset, mark, kind in FOREIGN:
        if start[offset : offset + len(mark)] == mark:
            return AudioFileError(f"{path}: this is {kind}, which cannot be read here", READ_HERE)
    if is_text(start):
        return AudioFileError(f"{path}: this is a text file, not a sound file", READ_HERE)
    return AudioFileError(f"{path}: this is not a sound file that can be read here", READ_HERE)


def is_text(start: bytes) -> bool:
    """Whether a file that starts like this reads as text (UTF-8, or UTF-16 with its mark)."""
    encoding = "utf-16" if start[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
    text = start.decode(encoding, errors="ignore")
    whole = len(text.encode(encoding)) >= len(start) - 3
    return whole and all(letter.isprintable() or letter.isspace() for letter in text)


def too_short(path: Path, there: str, promised: str) -> AudioFileError:
    """The file ends before the sound that its header promises."""
    return AudioFileError(f"{path}: the file was cut short: {there} of {promised} are there", BOUNCE_AGAIN)


def no_sound(path: Path, bytes_behind: int) -> AudioFileError:
    """A readable header with no frames; bytes_behind: what stands where the sound should be."""
    if bytes_behind:
        what = f"its header says 0 frames, yet {bytes_behind} bytes follow: whatever wrote it never closed it"
        return AudioFileError(f"{path}: {what}", "open it in an audio editor and save it again as WAV")
    return AudioFileError(f"{path}: there is no sound in it (0 frames)", BOUNCE_AGAIN)


def not_finite(path: Path, channel: int, channels: int, place: str, value: float) -> AudioFileError:
    """A sample that is no number. channel: from 0. place: the time, in words."""
    names = {1: ("mono channel",), 2: ("left channel", "right channel")}
    name = names[channels][channel] if channels in names else f"channel {channel + 1}"
    kind = "not a number (NaN)" if value != value else "infinite"
    return AudioFileError(
        f"{path}: {name}, at {place}: the sample is {kind}",
        "bounce it again; if it comes back, bypass the plugins one by one to find the one that does it",
    )
