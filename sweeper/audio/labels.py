"""What a delivered file says of itself: title, artist, ISRC, its place on an album and the opaque id; nothing else.

In WAV: chunks behind the sound. Elsewhere the format's own tags, by the library mutagen.
Sources: RIFF `INFO` lists (Multimedia Programming Interface and Data Specifications 1.0, where `ISRC` means a source
and no code); EBU Tech 3352 for an ISRC in the `axml` chunk (its element names from memory); ID3v2.4 frames TIT2, TPE1,
TSRC, TALB, TRCK, UFID; the Vorbis comment fields TITLE, ARTIST, ISRC, ALBUM, TRACKNUMBER, TRACKTOTAL. ITRK is common
practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from sweeper.audio.broadcast import read_tag
from sweeper.audio.chunks import riff_chunk
from sweeper.audio.unreadable import forbidden

#: Whose ids they are, where a format wants to know.
OWNER = "sweeper"
ID_FIELD = "SWEEPER_ID"


@dataclass(frozen=True)
class Labels:
    """reference: the opaque id. title, artist, isrc, album: "" = not given. track: from 1 to `tracks`, 0 = of none."""

    reference: str
    title: str = ""
    artist: str = ""
    isrc: str = ""
    album: str = ""
    track: int = 0
    tracks: int = 0

    @property
    def number(self) -> str:
        """3/12, or "" on no album."""
        return f"{self.track}/{self.tracks}" if self.track else ""


def wav_chunks(labels: Labels) -> bytes:
    """The chunks that stand behind a WAV file's sound: LIST INFO (UTF-8), and axml for the ISRC; b"" for none."""
    info = b"".join(
        riff_chunk(name, text.encode("utf-8") + b"\0")
        for name, text in ((b"INAM", labels.title), (b"IART", labels.artist), (b"IPRD", labels.album),
                           (b"ITRK", labels.number))
        if text
    )
    chunks = riff_chunk(b"LIST", b"INFO" + info) if info else b""
    return chunks + (riff_chunk(b"axml", _axml(labels.isrc)) if labels.isrc else b"")


def _axml(isrc: str) -> bytes:
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<ebuCoreMain xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns="urn:ebu:metadata-schema:ebuCore_2012">'
        '<coreMetadata><identifier typeLabel="GUID" typeDefinition="Globally Unique Identifier" formatLabel="ISRC" '
        'formatDefinition="International Standard Recording Code" '
        'formatLink="http://www.ebu.ch/metadata/cs/ebu_IdentifierTypeCodeCS.xml#3.7">'
        f"<dc:identifier>ISRC:{escape(isrc)}</dc:identifier>"
        "</identifier></coreMetadata></ebuCoreMain>\n"
    ).encode()


def label(path: Path, container: str, labels: Labels) -> None:
    """Put the labels into a finished AIFF, FLAC, MP3, or Ogg file. Raises OSError.

    container: "AIFF", "FLAC", "MP3", "VORBIS" or "OPUS".
    """
    from mutagen import MutagenError

    try:
        _label_id3(path, container, labels) if container in ("AIFF", "MP3") else _comment(path, container, labels)
    except MutagenError as error:
        raise error.args[0] if error.args and isinstance(error.args[0], OSError) else OSError(str(error)) from error


def _label_id3(path: Path, container: str, labels: Labels) -> None:
    from mutagen.aiff import AIFF
    from mutagen.mp3 import MP3

    kind: Any = AIFF if container == "AIFF" else MP3
    file = kind(path)
    if file.tags is None:
        file.add_tags()
    _fill(file.tags, labels)
    file.save()


def _fill(tags: Any, labels: Labels) -> None:
    from mutagen import id3

    frames: Any = id3
    tags.add(frames.UFID(owner=OWNER, data=labels.reference.encode("ascii")))
    for frame, text in (("TIT2", labels.title), ("TPE1", labels.artist), ("TSRC", labels.isrc), ("TALB", labels.album),
                        ("TRCK", labels.number)):
        if text:
            tags.add(getattr(frames, frame)(encoding=3, text=[text]))


def _comment(path: Path, container: str, labels: Labels) -> None:
    file = _commented(path, container)
    if file.tags is None:
        file.add_tags()
    fields = {ID_FIELD: labels.reference, "TITLE": labels.title, "ARTIST": labels.artist, "ISRC": labels.isrc,
              "ALBUM": labels.album, "TRACKNUMBER": str(labels.track or ""), "TRACKTOTAL": str(labels.tracks or "")}
    for field, text in fields.items():
        if text:
            file.tags[field] = [text]
    file.save()


def _commented(path: Path, container: str) -> Any:
    from mutagen.flac import FLAC
    from mutagen.oggopus import OggOpus
    from mutagen.oggvorbis import OggVorbis

    kinds: dict[str, Any] = {"FLAC": FLAC, "VORBIS": OggVorbis, "OPUS": OggOpus}
    return kinds[container](path)


def reference_of(path: Path) -> str:
    """The opaque id that a file of ours carries, in any format that we write; "" for any other file.

    Raises AudioFileError when the file cannot be read.
    """
    tag = read_tag(path)
    if tag is not None:
        return tag.reference
    from mutagen import File, MutagenError

    try:
        file: Any = File(path)
    except MutagenError as error:
        if error.args and isinstance(error.args[0], OSError):
            raise forbidden(path, error.args[0]) from error
        return ""
    tags = getattr(file, "tags", None)
    if not tags:
        return ""
    if f"UFID:{OWNER}" in tags:
        return str(tags[f"UFID:{OWNER}"].data.decode("ascii", errors="replace"))
    try:
        found = tags.get(ID_FIELD) or [""]
    except (ValueError, KeyError):  # a kind of tags that takes no such name
        return ""
    return str(found[0]) if isinstance(found, list) else ""
