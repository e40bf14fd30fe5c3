"""The tracks of an album file, each found: the variant that was kept, and what its files say of themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio.labels import Labels
from sweeper.chain.album_model import Album, Track
from sweeper.chain.model import Mark
from sweeper.chain.print_model import Edits
from sweeper.delivery.kept import Kept, find_kept
from sweeper.errors import ChainFileError, PrintError, Problem, SweeperError
from sweeper.records.picks import KEEP
from sweeper.table.picks import picks_of
from sweeper.table.written import WrittenRun, read_run


@dataclass(frozen=True)
class Placed:
    """A track with its variant. labels: without the reference. edits: without the silence. picked: nobody wrote its
    number, it was picked to keep.
    """

    track: Track
    kept: Kept
    labels: Labels
    edits: Edits
    picked: bool

    @property
    def title(self) -> str:
        """Of the track; else of its run."""
        return self.labels.title or self.kept.sheet.title


def find_tracks(album: Album) -> tuple[Placed, ...]:
    """Every track, in order. Raises ChainFileError with everything that is not there, each at its line."""
    problems: list[Problem] = []
    found: list[Placed] = []
    for number, track in enumerate(album.tracks, 1):
        try:
            found.append(_placed(album, track, number))
        except ChainFileError as exc:  # in the chain file of the run
            problems.extend(exc.problems)
        except SweeperError as exc:
            problems.append(_problem(album, track.mark, exc.what, exc.remedy))
    problems += _twice(album, found)
    if problems:
        raise ChainFileError(problems)
    return tuple(found)


def _problem(album: Album, mark: Mark, what: str, remedy: str) -> Problem:
    return Problem(str(album.path), mark.line, mark.column, what, remedy)


def _placed(album: Album, track: Track, number: int) -> Placed:
    kept = find_kept(track.run, track.variant or _picked(track))
    own = kept.wishes
    labels = Labels("", track.title or own.title, track.artist or own.artist or album.artist, track.isrc or own.isrc,
                    album.title, number, len(album.tracks))  # fmt: skip
    return Placed(track, kept, labels, own.edits if track.edits is None else track.edits, not track.variant)


def _picked(track: Track) -> str:
    """The number of the variant that was picked to keep."""
    run = read_run(track.run)
    kept = picked_ids(run, track.mix)
    if len(kept) == 1:
        return kept[0]
    of = f" of {track.mix}" if track.mix else ""
    if not kept:
        raise PrintError(f"nothing{of} is picked to keep in {track.written}",
                        "write variant: NUMBER, or pick one in `sweeper audition`")  # fmt: skip
    several = "" if track.mix or len(run.mixes) < 2 else ", or mix: NUMBER for the pick of one mix"
    raise PrintError(f"{len(kept)} variants{of} are picked to keep in {track.written}: {', '.join(kept)}",
                    f"write variant: {kept[0]}, or another of them{several}")  # fmt: skip


def picked_ids(run: WrittenRun, mix: str = "") -> list[str]:
    """The variants that were picked to keep. mix: only of this one, by its number or file; "" = of all.

    Raises PrintError for a mix that the run has not, RunFolderError where its notes cannot be read.
    """
    picks = picks_of(run.path)
    rows = [row for row in run.rows if not mix or _is_of(row.mix, mix, run)]
    if mix and not rows:
        names = ", ".join(Path(one.file).name for one in run.mixes)
        raise PrintError(f"{run.path.name} has no mix '{mix}'", f"write one of {names}, or its number")
    return [row.id for row in rows if picks and row.id in picks.picks and picks.picks[row.id].verdict == KEEP]


def _is_of(mix: str, wanted: str, run: WrittenRun) -> bool:
    if wanted.isdecimal() and 1 <= int(wanted) <= len(run.mixes):
        return Path(mix).name == Path(run.mixes[int(wanted) - 1].file).name
    return wanted in (mix, Path(mix).name, Path(mix).stem)


def _twice(album: Album, found: Sequence[Placed]) -> Iterator[Problem]:
    """What only the runs' own files tell: the same variant, or the same ISRC, twice."""
    codes: dict[str, Placed] = {}
    sounds: dict[str, Placed] = {}
    for one in found:
        first = codes.setdefault(one.labels.isrc, one) if one.labels.isrc else one
        if first is not one:
            yield _problem(album, one.track.mark, f"this track has the ISRC of track {first.labels.track}: "
                           f"{one.labels.isrc}", "each recording has its own")  # fmt: skip
        same = sounds.setdefault(one.kept.sheet.id, one)
        if same is not one:
            yield _problem(album, one.track.mark, f"this is track {same.labels.track} again: variant {one.kept.id} of "
                           f"{one.track.written}", "name another variant, or take one out")  # fmt: skip
