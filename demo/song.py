"""The demo's song as written music: tempo, form, chords, drum patterns and melody.

"Tin Boats at Low Water" by The Saltmarsh Clerks: an invented song by an invented group.
"""

from __future__ import annotations

from dataclasses import dataclass

TITLE = "Tin Boats at Low Water"
ARTIST = "The Saltmarsh Clerks"
RATE_HZ = 48_000
STEP_FRAMES = 7_500  # a sixteenth note at 96 beats a minute
BAR_FRAMES = 16 * STEP_FRAMES
BAR_S = BAR_FRAMES / RATE_HZ
TONIC_MIDI = 50  # D3, before the key that the seed draws


@dataclass(frozen=True)
class Chord:
    """bass, notes: semitones above the tonic."""

    bass: int
    notes: tuple[int, ...]


I = Chord(-12, (4, 7, 12, 14))  # noqa: E741 - chords go by their Roman numerals
V6 = Chord(-13, (2, 7, 11, 14))
VI = Chord(-15, (4, 9, 12, 16))
IV = Chord(-19, (5, 9, 12, 16))
V = Chord(-17, (2, 7, 11, 14))
III = Chord(-20, (4, 7, 11, 16))


@dataclass(frozen=True)
class Part:
    """A section of the form.

    kick, snare, hats: sixteen steps a bar; "x" loud, "o" soft, "O" an open hat, "." nothing.
    melody: for every bar the phrases the singer may choose from (one draw a bar); a phrase is notes
    "step:length:semitones above the upper tonic:syllable". energy: 0 (intro) to 3 (last chorus).
    """

    name: str
    chords: tuple[Chord, ...]
    kick: str
    snare: str
    hats: str
    melody: tuple[tuple[str, ...], ...]
    energy: int

    @property
    def bars(self) -> int:
        return len(self.chords)


_REST = (("",),)
_VERSE = (
    ("0:3:4:sa 3:3:4:lo 6:4:2:ti 12:4:0:na", "0:2:4:sa 2:2:7:mo 4:6:4:ti 12:3:2:lo"),
    ("0:6:2:su 8:3:-1:le 12:4:2:na", "0:3:2:se 3:5:-1:ro 10:5:2:na"),
    ("0:3:4:ti 3:3:4:sa 6:4:2:lo 12:3:4:shu", "0:4:4:ta 4:2:5:si 6:6:4:lo 13:3:0:na"),
    ("0:8:0:mo 10:2:2:sa 12:4:4:li", "2:8:5:mo 11:2:4:si 13:3:2:la"),
)
_CHORUS = (
    ("0:4:9:sa 4:2:7:li 6:6:9:la 13:3:7:so", "0:4:9:sa 4:2:11:li 6:6:9:la 13:3:7:so"),
    ("0:6:7:shi 7:2:4:no 9:6:2:la",),
    ("0:4:4:so 4:2:7:mi 6:6:9:la 13:3:7:si", "0:4:4:so 4:2:5:mi 6:6:9:la 13:3:7:si"),
    ("0:6:7:na 8:2:4:se 10:5:4:lo",),
    ("0:4:9:sa 4:2:7:li 6:4:9:la 11:2:11:ti 13:3:12:sa",),
    ("0:6:11:sho 7:2:9:ni 9:6:7:la", "0:7:11:sho 8:2:7:ni 10:6:9:la"),
    ("0:10:7:sa 12:4:4:li", "0:4:7:sa 4:8:4:la 12:4:2:si"),
    ("0:12:4:lo", "0:4:2:so 4:10:0:la"),
)
_VERSE_CHORDS = (I, V6, VI, IV)
_CHORUS_CHORDS = (IV, V, VI, III, IV, V, I, I)

PARTS = (
    Part("intro", _VERSE_CHORDS, "................", "................", "....o.......o...", _REST * 4, 0),
    Part("verse 1", _VERSE_CHORDS * 2, "x.....o.x.......", "....x.......x...", "x.o.x.o.x.o.x.o.", _VERSE * 2, 1),
    Part("first chorus", _CHORUS_CHORDS, "x.....x.x.....o.", "....x.......x..o", "x.x.x.x.x.x.x.O.", _CHORUS, 2),
    Part("verse 2", (VI, IV, I, V), "x.......x.o.....", "....x.......x...", "x.o.x.o.x.o.x.oo", _VERSE, 1),
    Part("last chorus", _CHORUS_CHORDS, "x..o..x.x.x...o.", "....x..o....x.oo", "xoxoxoxoxoxoxoOo", _CHORUS, 3),
    Part("ending", (IV, V, I, I), "x...............", "................", "....o...o...o...", _REST * 4, 0),
)  # fmt: skip


def _starts() -> tuple[int, ...]:
    starts, bar = [], 0
    for part in PARTS:
        starts.append(bar)
        bar += part.bars
    return tuple(starts)


#: The bar each part starts on, and the number of bars in all.
START_BARS = _starts()
BARS = sum(part.bars for part in PARTS)
FRAMES = BARS * BAR_FRAMES
#: Section name -> start and end in seconds; demo/chain.yaml names the same ones.
SECTIONS: dict[str, tuple[float, float]] = {
    part.name: (bar * BAR_S, (bar + part.bars) * BAR_S) for part, bar in zip(PARTS, START_BARS, strict=True)
}


@dataclass(frozen=True)
class Note:
    """A sung note. start_step, steps: in sixteenths of its bar; semitones: above the upper tonic."""

    start_step: int
    steps: int
    semitones: int
    syllable: str


def notes_of(phrase: str) -> tuple[Note, ...]:
    """The notes of a written phrase; none for ""."""
    fields = (word.split(":") for word in phrase.split())
    return tuple(Note(int(start), int(steps), int(pitch), sound) for start, steps, pitch, sound in fields)


def pitch_hz(midi: float) -> float:
    """The frequency of a MIDI note number in equal temperament, A4 = 69 = 440 Hz (ISO 16)."""
    return float(440.0 * 2.0 ** ((midi - 69.0) / 12.0))
