"""What is to be handed over, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.audio import Word

LOSSLESS, LOSSY = ("WAV", "AIFF", "FLAC"), ("MP3", "Vorbis", "Opus")
ENDINGS = {"WAV": ".wav", "AIFF": ".aiff", "FLAC": ".flac", "MP3": ".mp3", "Vorbis": ".ogg", "Opus": ".opus"}
DITHERS = ("none", "tpdf", "shaped")
#: What a file is called where nothing else is said.
PATTERN = "{title} ({spec})"


@dataclass(frozen=True)
class PrintSpec:
    """One kind of file to deliver.

    name: of its file, without ending. format: of LOSSLESS or LOSSY. rate_hz: None = the mix's own. word: what a sample
    is; None for lossy formats. dither: of DITHERS; "none" where nothing is rounded. ceiling_dbtp: the spec's own, None
    = that which the variant was made to. as_rendered: the render's samples, with no change at all. kbps: of MP3, Opus.
    quality: of Vorbis. pattern: of the file's name.
    """

    name: str
    about: str
    format: str
    rate_hz: int | None = None
    word: Word | None = None
    dither: str = "none"
    ceiling_dbtp: float | None = None
    as_rendered: bool = False
    kbps: float | None = None
    quality: float | None = None
    pattern: str = PATTERN

    @property
    def lossy(self) -> bool:
        """Whether the format gives other samples than it gets."""
        return self.format in LOSSY

    @property
    def ending(self) -> str:
        """Of its files: ".wav"."""
        return ENDINGS[self.format]


@dataclass(frozen=True)
class Edits:
    """What is cut and faded, in seconds of the render; end_s: None = where it ends. silence_s: what follows it."""

    start_s: float = 0.0
    end_s: float | None = None
    fade_in_s: float = 0.0
    fade_out_s: float = 0.0
    silence_s: float = 0.0

    @property
    def none(self) -> bool:
        """Nothing is."""
        return self == Edits()


NO_EDITS = Edits()


@dataclass(frozen=True)
class PrintWishes:
    """What a chain file's `print` asks for. title, artist, isrc: "" = not given; an ISRC has no hyphens."""

    to: tuple[PrintSpec, ...] = ()
    title: str = ""
    artist: str = ""
    isrc: str = ""
    edits: Edits = NO_EDITS


NO_PRINTS = PrintWishes()
