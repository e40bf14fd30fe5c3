"""What is written of an album beside its sound: everything as JSON, the order as CSV and as a page to print."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import os
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from sweeper.album.assembling import Assembled
from sweeper.album.folder import CHECKSUMS_NAME, PAGE_NAME, PROOF_NAME, TABLE_NAME
from sweeper.album.order_lines import OrderLine, album_remarks, order_lines
from sweeper.audio.placing import place_text
from sweeper.quantities import Measurements, quantity_of
from sweeper.recall.albums import ALBUM_NAME
from sweeper.units import clock
from sweeper.version import VERSION

SCHEMA = 1
TEMPLATE = "order.html"
#: Of every track, on the page and in the table.
SHOWN = ("loudness_lufs", "loudness_range_lu", "true_peak_dbtp", "sample_peak_dbfs")


def write_order(made: Assembled) -> dict[str, object]:
    """Write the three files into the album's folder; what `album.json` holds. Raises RunFolderError."""
    data = album_data(made)
    place_text(made.folder / TABLE_NAME, order_csv(order_lines(made)))
    place_text(made.folder / PAGE_NAME, order_page(made))
    place_text(made.folder / ALBUM_NAME, json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    return data


def album_data(made: Assembled) -> dict[str, object]:
    """Everything, for JSON. Paths of runs and sheets are as seen from the album's folder."""
    proof = made.proof
    return {
        "schema": SCHEMA, "created": f"{made.created:%Y-%m-%dT%H:%M:%S}", "sweeper": VERSION,
        "title": made.album.title, "artist": made.album.artist or None, "folder": str(made.folder),
        "album_file": str(made.album.path.absolute()), "album": made.album.text,
        "checksums": CHECKSUMS_NAME, "gaps_in_files": made.album.gaps_in_files,
        "tracks": [_line(made, line) for line in order_lines(made)],
        "joins": [dataclasses.asdict(join) for join in made.joins],
        "proof": {"file": PROOF_NAME, "sha256": proof.sha256, "audio_sha256": proof.audio_sha256,
                  "rate_hz": proof.rate_hz, "frames": proof.frames, "starts": list(proof.starts),
                  "measurements": proof.measurements.as_data()},
        "remarks": list(album_remarks(made)),
    }  # fmt: skip


def _line(made: Assembled, line: OrderLine) -> dict[str, object]:
    sheet = made.tracks[line.number - 1].kept.sheet_path
    return {
        "number": line.number, "title": line.title, "artist": line.artist or None, "isrc": line.isrc or None,
        "start_s": line.start_s, "disc_start": line.disc_start or None, "length_s": line.length_s, "gap_s": line.gap_s,
        "level_db": line.level_db, "run": _seen(line.run, made.folder), "variant": line.variant, "id": line.id,
        "sheet": _seen(sheet, made.folder), "proof_of": line.file,
        "files": [{"file": file, "sha256": sha256} for file, sha256 in line.files],
        "measurements": line.measured.as_data(),
    }  # fmt: skip


def _seen(path: Path, beside: Path) -> str:
    try:
        return Path(os.path.relpath(path.absolute(), beside)).as_posix()
    except ValueError:  # on another drive: no way leads there from here
        return str(path.absolute())


def order_csv(lines: Sequence[OrderLine]) -> str:
    """A line a track, with headings that carry their units."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["track", "title", "artist", "ISRC", "start s", "length s", "gap after s", "disc start",
                    *(f"{quantity_of(key).name} {quantity_of(key).unit}" for key in SHOWN), "file", "variant", "run",
                    "id"])  # fmt: skip
    for line in lines:
        table.writerow([line.number, line.title, line.artist, line.isrc, f"{line.start_s:.6f}", f"{line.length_s:.6f}",
                        f"{line.gap_s:.6f}", line.disc_start, *numbers(line.measured), line.file, line.variant,
                        line.run.name, line.id])  # fmt: skip
    return out.getvalue()


def numbers(measured: Measurements) -> list[str]:
    """What is shown of a file, as text; "" where there is no value."""
    return [_number(measured[key], key) for key in SHOWN]


def _number(value: float | None, key: str) -> str:
    decimals = quantity_of(key).decimals
    return "" if value is None else f"{round(value, decimals) + 0.0:.{decimals}f}"


def order_page(made: Assembled) -> str:
    """The page as HTML in UTF-8, in one file that needs nothing else and names no path of this machine."""
    from jinja2 import Environment, StrictUndefined

    template = files("sweeper.album").joinpath(TEMPLATE).read_text("utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    text: str = environment.from_string(template).render(_page(made))
    return text


def _page(made: Assembled) -> dict[str, Any]:
    lines, proof = order_lines(made), made.proof
    return {
        "title": made.album.title, "artist": made.album.artist, "created": f"{made.created:%Y-%m-%d}",
        "headings": [(quantity_of(key).name, quantity_of(key).unit) for key in SHOWN],
        "on_disc": any(line.disc_start for line in lines), "in_files": made.album.gaps_in_files,
        "lines": [_row(line) for line in lines],
        "joins": [(join.before, join.after, *(_signed(value) for value in
                   (join.step_lu, join.across_lu, join.tilt_db, join.side_mid_db))) for join in made.joins],
        "total": clock(proof.frames / proof.rate_hz), "whole": numbers(proof.measurements),
        "rate": f"{proof.rate_hz / 1000:g} kHz", "proof": PROOF_NAME, "checksums": CHECKSUMS_NAME,
        "files": [(file, sha256) for line in lines for file, sha256 in line.files] + [(PROOF_NAME, proof.sha256)],
    }  # fmt: skip


def _row(line: OrderLine) -> dict[str, Any]:
    return {
        "number": line.number, "title": line.title, "artist": line.artist, "isrc": hyphened(line.isrc),
        "start": clock(line.start_s), "disc_start": line.disc_start, "length": clock(line.length_s),
        "gap": f"{line.gap_s:.3f} s" if line.gap_s else "none", "numbers": numbers(line.measured),
    }  # fmt: skip


def hyphened(isrc: str) -> str:
    """XX-XXX-26-00001, as an ISRC is shown (ISO 3901); "" for none."""
    return "-".join((isrc[:2], isrc[2:5], isrc[5:7], isrc[7:])) if isrc else ""


def _signed(value: float | None) -> str:
    return "-" if value is None else f"{round(value, 1) + 0.0:+.1f}"
