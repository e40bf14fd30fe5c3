"""What normalised playback does to a file: the levels that documents name, and the gain to each.

A player that normalises turns a file down to its level by the whole difference. It turns a quieter one up no further
than the true peak may go. The levels and the ceilings are the documents'; that a gain up ends at the ceiling is common
practice, no source. Services differ, and change what they do: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.targets.documents import BY_ID
from sweeper.targets.target import Target


@dataclass(frozen=True)
class PlaybackLevel:
    """A level that files are turned to. target: whose document names it. use: where it is met. album: all files get one
    gain, that of the loudest."""

    loudness_lufs: float
    target: Target
    use: str
    album: bool = False

    @property
    def ceiling_dbtp(self) -> float | None:
        """No gain up goes beyond this true peak."""
        return self.target.true_peak_max_dbtp


@dataclass(frozen=True)
class Sound:
    """A file as far as playback goes; None where there is no measurement (silence)."""

    loudness_lufs: float | None
    true_peak_dbtp: float | None


@dataclass(frozen=True)
class Played:
    """A file at a playback level, everything None without a loudness.

    gain_db: what it is turned by. loudness_lufs, true_peak_dbtp: what comes out. held_back_db: how much more gain the
    level asked for than the ceiling let through. over_ceiling: the true peak is above the ceiling as it stands.
    """

    gain_db: float | None
    loudness_lufs: float | None
    true_peak_dbtp: float | None
    held_back_db: float | None
    over_ceiling: bool | None


NOTHING = Played(None, None, None, None, None)


def _level(id: str, use: str, loudness_lufs: float | None = None, album: bool = False) -> PlaybackLevel:
    target = BY_ID[id]
    return PlaybackLevel(target.loudness_lufs if loudness_lufs is None else loudness_lufs, target, use, album)


#: The loudest first.
LEVELS: tuple[PlaybackLevel, ...] = (
    _level("aes-td1008-music-album", "music, the files as one album: the loudest decides", album=True),
    _level("aes-td1008-music-track", "music, each track by itself"),
    _level("ebu-r128-streaming", "streaming of broadcasters for now, loud end", -16.0),
    _level("aes-td1008-speech", "speech and assorted content"),
    _level("ebu-r128-streaming", "streaming of broadcasters for now, quiet end", -20.0),
    _level("ebu-r128", "broadcast"),
    _level("atsc-a85", "television"),
)


def played(level: PlaybackLevel, sounds: Sequence[Sound]) -> tuple[Played, ...]:
    """Each of the files as it is played at the level; as an album they share the gain of the loudest of them."""
    if not level.album:
        return tuple(_turned(sound, _gain_db(level, (sound,)), level) for sound in sounds)
    shared = _gain_db(level, sounds)
    return tuple(_turned(sound, shared, level) for sound in sounds)


def _gain_db(level: PlaybackLevel, sounds: Sequence[Sound]) -> tuple[float, float]:
    """The gain of files that are turned together, and what the ceiling took off it."""
    wanted = level.loudness_lufs - max((s.loudness_lufs for s in sounds if s.loudness_lufs is not None), default=0.0)
    peak = max((s.true_peak_dbtp for s in sounds if s.true_peak_dbtp is not None), default=None)
    if peak is None or level.ceiling_dbtp is None:
        return wanted, 0.0
    gain = min(wanted, max(0.0, level.ceiling_dbtp - peak))
    return gain, wanted - gain


def _turned(sound: Sound, gain: tuple[float, float], level: PlaybackLevel) -> Played:
    if sound.loudness_lufs is None or sound.true_peak_dbtp is None:
        return NOTHING
    peak = sound.true_peak_dbtp + gain[0]
    over = level.ceiling_dbtp is not None and round(peak, 6) > level.ceiling_dbtp
    return Played(gain[0], sound.loudness_lufs + gain[0], peak, gain[1], over)
