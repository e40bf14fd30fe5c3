"""The order of an album as plain values: a line a track, and what is to be known of the whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sweeper.album.assembling import Assembled
from sweeper.delivery.edits import DISC_BLOCK_FRAMES, DISC_RATE_HZ
from sweeper.delivery.remarks import remarks
from sweeper.quantities import Measurements
from sweeper.targets.playback import LEVELS, Sound, played

#: A step that is told. Ours.
STEP_LU = 3.0


@dataclass(frozen=True)
class OrderLine:
    """One track. start_s: in the proof. length_s: of the music. gap_s: the silence behind it, as it came out.

    disc_start: minutes, seconds and blocks of 1/75 s, "" where the proof is not at a disc's rate. file: the print that
    the proof was joined from, from the album's folder; files: every print. measured: what is in `file`.
    """

    number: int
    title: str
    artist: str
    isrc: str
    start_s: float
    disc_start: str
    length_s: float
    gap_s: float
    run: Path
    variant: str
    id: str
    level_db: float
    file: str
    files: tuple[tuple[str, str], ...]
    measured: Measurements


def order_lines(made: Assembled) -> tuple[OrderLine, ...]:
    """A line a track."""
    proof, found = made.proof, []
    ends = (*proof.starts[1:], proof.frames)
    for number, (track, one) in enumerate(zip(made.tracks, made.proofed, strict=True)):
        start, sound = proof.starts[number], one.ahead.cut.kept
        prints = made.prints[number]
        found.append(OrderLine(
            number + 1, track.title, track.labels.artist, track.labels.isrc, start / proof.rate_hz,
            _disc_start(start, proof.rate_hz), sound / proof.rate_hz, (ends[number] - start - sound) / proof.rate_hz,
            track.kept.run, track.kept.id, track.kept.sheet.id, one.order.level_db,
            _within(made, one.printed.target),
            tuple((_within(made, each.printed.target), each.printed.sha256) for each in prints),
            one.printed.measurements,
        ))  # fmt: skip
    return tuple(found)


def _within(made: Assembled, file: Path) -> str:
    return file.relative_to(made.folder).as_posix()


def _disc_start(frame: int, rate_hz: int) -> str:
    if rate_hz != DISC_RATE_HZ:
        return ""
    blocks, rest = divmod(frame, DISC_BLOCK_FRAMES)
    seconds, block = divmod(blocks, 75)
    return f"{seconds // 60:02d}:{seconds % 60:02d}:{block:02d}" + (f" +{rest} frames" if rest else "")


def album_remarks(made: Assembled) -> tuple[str, ...]:
    """What an engineer should know of the whole, then of single files; one sentence each."""
    return (*_of_tracks(made), *_of_joins(made), *_of_players(made), *_of_files(made))


def _of_tracks(made: Assembled) -> Iterator[str]:
    without = [str(line.number) for line in order_lines(made) if not line.isrc]
    if without and len(without) < len(made.tracks):
        yield f"no ISRC: track{'s' * (len(without) > 1)} {', '.join(without)}"
    yield from _titles(made)
    for track in made.tracks:
        if track.picked:
            yield f"track {track.labels.track} is variant {track.kept.id} of {track.kept.run.name}, as it was picked"
    for line in order_lines(made):
        if "+" in line.disc_start:
            yield (f"track {line.number} starts inside of a disc's block, as no silence stands before it: a disc cuts "
                   "there to the block, 1/75 s")  # fmt: skip


def _titles(made: Assembled) -> Iterator[str]:
    """Titles that several tracks have."""
    by_title: dict[str, list[str]] = {}
    for track in made.tracks:
        by_title.setdefault(track.title.casefold(), []).append(str(track.labels.track))
    for numbers in by_title.values():
        if len(numbers) > 1:
            yield f"tracks {', '.join(numbers)} have one title: write title: under each"


def _of_joins(made: Assembled) -> Iterator[str]:
    for join in made.joins:
        if join.step_lu is not None and abs(join.step_lu) >= STEP_LU:
            way = "louder" if join.step_lu > 0 else "quieter"
            yield f"track {join.after} is {abs(join.step_lu):.1f} LU {way} than track {join.before} as a whole"


def _of_players(made: Assembled) -> Iterator[str]:
    """What a player makes of it that turns an album as one."""
    each = [one.printed.measurements for one in made.proofed]
    sounds = [Sound(one["loudness_lufs"], one["true_peak_dbtp"]) for one in each]
    for level in LEVELS:
        turned = [one for one in played(level, sounds) if one.gain_db is not None] if level.album else []
        if turned and turned[0].gain_db is not None:
            yield (f"a player that turns the album as one to {level.loudness_lufs:g} LUFS by its loudest track "
                   f"({level.target.document}) turns it by {turned[0].gain_db:+.1f} dB")  # fmt: skip


def _of_files(made: Assembled) -> Iterator[str]:
    for prints in made.prints:
        for one in prints:
            yield from (f"{_within(made, one.printed.target)}: {remark}" for remark in remarks(one))
