"""An album put together: every track printed, the prints joined into one proof, all of it measured and written down."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sweeper.album.edges import Join, joins
from sweeper.album.folder import CHECKSUMS_NAME, PROOF_NAME, free_folder, make
from sweeper.album.orders import Piece, Proof, ProofOrder
from sweeper.album.tracks import Placed, find_tracks
from sweeper.audio import Word, inspect
from sweeper.audio.labels import Labels
from sweeper.audio.placing import place_text
from sweeper.chain.album_model import Album
from sweeper.chain.print_model import PrintSpec
from sweeper.delivery.ceiling import Over
from sweeper.delivery.delivering import Asked, planned_prints, print_names
from sweeper.delivery.edits import silence_frames
from sweeper.delivery.files import Files, print_files
from sweeper.delivery.folders import Places, free_manifest
from sweeper.delivery.kept import Ceiling, ceiling_of
from sweeper.delivery.manifest import checksums_text, manifest, manifest_text
from sweeper.delivery.outcome import Print
from sweeper.delivery.planned import Planned
from sweeper.errors import AudioFileError, PrintError
from sweeper.workers import Failed, Pool, Task, value_of

JOIN = "sweeper.album.joining:join_tracks"


@dataclass(frozen=True)
class How:
    """What is no part of the album file. results: gets the album's folder. ceiling_dbtp: None = each variant's own."""

    results: Path
    over: Over
    now: datetime
    ceiling_dbtp: float | None = None


@dataclass(frozen=True)
class Assembled:
    """An album in its folder. tracks: as they were found; prints: of each track, in the order of `Album.to`."""

    album: Album
    folder: Path
    created: datetime
    tracks: tuple[Placed, ...]
    prints: tuple[tuple[Print, ...], ...]
    proof: Proof
    gaps_s: tuple[float, ...]

    @property
    def proofed(self) -> tuple[Print, ...]:
        """The print of each track that the proof was joined from."""
        return tuple(_proofed(self.album, prints) for prints in self.prints)

    @property
    def joins(self) -> tuple[Join, ...]:
        """What is between neighbours."""
        return joins([one.printed.measurements for one in self.proofed], self.gaps_s, self.proof)


def assemble(album: Album, how: How, pool: Pool) -> Assembled:
    """Print the tracks, join them, measure, and write checksums and the manifests of the runs.

    What was printed stands, with its checksums, also where something fails. The sheet of the order is written by
    `sweeper.album.written`. Raises ChainFileError, PrintError, OverCeiling, AudioFileError, RunFolderError.
    """
    tracks = find_tracks(album)
    folder = free_folder(how.results.absolute(), album.title, how.now)
    _refuse_mixed(album, tracks)
    planned = [_planned(album, number, track, folder, how) for number, track in enumerate(tracks)]
    _refuse_same_names([one for prints in planned for one in prints])
    parts = [folder / spec.name for spec in album.to]
    files = print_files([one for prints in planned for one in prints], how.over, None, pool,
                        lambda: make(folder, parts))  # fmt: skip
    _write_manifests(files, tracks, folder, how.now)
    if files.failed is not None:
        place_text(folder / CHECKSUMS_NAME, checksums_text(files.prints, folder))
        raise files.failed
    count = len(album.to)
    prints = tuple(files.prints[n * count : (n + 1) * count] for n in range(len(tracks)))
    proof = _proof(album, tracks, prints, folder, how.now, pool)
    mark = f"{proof.sha256}  {PROOF_NAME}\n"
    place_text(folder / CHECKSUMS_NAME, checksums_text(files.prints, folder) + mark)
    gaps_s = tuple(album.gap_after_s(number) for number in range(len(tracks)))
    return Assembled(album, folder, how.now, tracks, prints, proof, gaps_s)


def _planned(album: Album, number: int, track: Placed, folder: Path, how: How) -> list[Planned]:
    silence_s = album.gap_after_s(number) if album.gaps_in_files else 0.0
    ceiling = ceiling_of(track.kept) if how.ceiling_dbtp is None else Ceiling(how.ceiling_dbtp, "--ceiling")
    specs = album.to if how.ceiling_dbtp is None else tuple(replace(spec, ceiling_dbtp=None) for spec in album.to)
    asked = Asked(
        specs=specs, labels=replace(track.labels, title=track.title), name=track.title,
        edits=replace(track.edits, silence_s=silence_s), ceiling=ceiling, over=how.over, out=folder,
        pattern=album.pattern or "{track} {title}", now=how.now, level_db=track.track.level_db,
    )  # fmt: skip
    names = zip(specs, print_names(track.kept, asked), strict=True)
    return planned_prints(track.kept, asked, [folder / spec.name / name for spec, name in names])


def _refuse_same_names(planned: Sequence[Planned]) -> None:
    counted = Counter(str(one.order.target).casefold() for one in planned)
    for one in planned:
        if counted[str(one.order.target).casefold()] > 1:
            raise PrintError(f"two files would be called {one.order.target.parent.name}/{one.order.target.name}",
                             'put {track} in the pattern: name: "{track} {title}"')  # fmt: skip


def _refuse_mixed(album: Album, tracks: Sequence[Placed]) -> None:
    """The proof is one file: its tracks have one rate, and as many channels."""
    spec = _proof_spec(album)
    formats = [inspect(track.kept.render).format for track in tracks]
    rates = {n: spec.rate_hz or format.rate_hz for n, format in enumerate(formats, 1)}
    other = next((n for n, rate_hz in rates.items() if rate_hz != rates[1]), None)
    if other:
        raise PrintError(
            f"track 1 comes out at {rates[1] / 1000:g} kHz and track {other} at {rates[other] / 1000:g} kHz, and the "
            "proof is one file", "put a spec with a rate first under 'to', e.g. disc")  # fmt: skip
    other = next((n for n, format in enumerate(formats, 1) if format.channels != formats[0].channels), None)
    if other:
        raise PrintError(
            f"track 1 has {formats[0].channels} channels and track {other} has {formats[other - 1].channels}, and the "
            "proof is one file", "render all of them in stereo")  # fmt: skip


def _write_manifests(files: Files, tracks: Sequence[Placed], folder: Path, now: datetime) -> None:
    """In the run of each track, what was printed of it, as `sweeper print` leaves it."""
    by_sheet: dict[str, list[Print]] = {}
    for one in files.prints:
        by_sheet.setdefault(one.kept.sheet.id, []).append(one)
    for track in tracks:
        prints = by_sheet.get(track.kept.sheet.id, [])
        if not prints:
            continue
        place = free_manifest(track.kept)
        places = Places(folder, tuple(one.order.target for one in prints), folder / CHECKSUMS_NAME, place)
        place.parent.mkdir(exist_ok=True)
        place_text(place, manifest_text(manifest(prints, places, now)))


def _proof(album: Album, tracks: Sequence[Placed], prints: Sequence[Sequence[Print]], folder: Path, now: datetime,
           pool: Pool) -> Proof:  # fmt: skip
    chosen = [_proofed(album, each) for each in prints]
    pieces = tuple(_piece(album, n, track, one) for n, (track, one) in enumerate(zip(tracks, chosen, strict=True)))
    word = chosen[0].order.spec.word or Word.FLOAT_32
    order = ProofOrder(pieces, folder / PROOF_NAME, word, Labels("", album.title, album.artist), f"{now:%Y-%m-%d}",
                       f"{now:%H:%M:%S}")  # fmt: skip
    (outcome,) = pool.map_in_order([Task("proof", JOIN, order, PROOF_NAME)])
    return value_of(outcome, Proof, _not_joined)


def _not_joined(failed: Failed) -> AudioFileError:
    return AudioFileError(f"joining the tracks {failed.what}", "try again; what was printed stands")


def _proofed(album: Album, prints: Sequence[Print]) -> Print:
    return prints[album.to.index(_proof_spec(album))]


def _proof_spec(album: Album) -> PrintSpec:
    """The first without loss; one that is printed as rendered, without trims and fades, only where it is the only one.
    """
    lossless = [spec for spec in album.to if not spec.lossy]
    return next((spec for spec in lossless if not spec.as_rendered), lossless[0])


def _piece(album: Album, number: int, track: Placed, one: Print) -> Piece:
    printed, in_file = one.printed, one.ahead.cut.silence
    gap_s = album.gap_after_s(number)
    gap = 0 if in_file else silence_frames(printed.frames, gap_s, printed.format.rate_hz)
    return Piece(printed.target, printed.audio_sha256, printed.frames - in_file, gap,
                 f"{number + 1:02d} {track.title}")  # fmt: skip
