"""An album put together: its files, its proof and its order, read back by others than us."""

from __future__ import annotations

import csv
import json
import subprocess
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from heard_runs import made_run
from printing import music, run_with

from sweeper.album.assembling import How, assemble
from sweeper.album.drafted import drafted
from sweeper.album.order_lines import album_remarks, order_lines
from sweeper.album.tracks import find_tracks
from sweeper.album.written import write_order
from sweeper.audio import inspect
from sweeper.audio.sample_hash import sample_hash
from sweeper.chain.albums import load_album
from sweeper.delivery.ceiling import Over
from sweeper.errors import AudioFileError, ChainFileError, OverCeiling, PrintError, RunFolderError, SheetError
from sweeper.recall.find import find
from sweeper.workers import Pool

NOW = datetime(2026, 11, 26, 10, 20, 30)
RATE_HZ = 48000
NAMES = ("slack-water", "two-bells", "harbour-lights")
#: EBU Tech 3341, table 1, case 3: a stereo sine of 1 kHz, 10 s at -36, 60 s at -23, 10 s at -36 dBFS is -23 LUFS.
CASE_3 = ((10, -36.0), (60, -23.0), (10, -36.0))


@pytest.fixture(scope="module")
def pool():
    with Pool(2) as pool:
        yield pool


def sine(seconds: float, level_db: float, rate_hz: int = RATE_HZ) -> np.ndarray:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return np.tile(10 ** (level_db / 20) * np.sin(2 * np.pi * 1000 * t), (2, 1)).astype(np.float32)


def runs(folder: Path, sounds, rates_hz=(RATE_HZ,) * 3) -> Path:
    """A run of one variant for each sound; returns where the album file goes."""
    for number, (name, sound, rate_hz) in enumerate(zip(NAMES, sounds, rates_hz, strict=False)):
        run_with(folder, sound, name=name, sheet_id=f"{number}123456789abcdef01234567", rate_hz=rate_hz, reach=())
    return folder / "lights.album.yaml"


def album_in(path: Path, more: str = "", tracks=("", "", "")):
    """The album file of the runs. tracks: what each says beside its run."""
    lines = [f"  - {{run: results/{name}, variant: 4, title: {name.title()}{', ' + own if own else ''}}}"
             for name, own in zip(NAMES, tracks, strict=False)
             if (path.parent / "results" / name).is_dir()]  # fmt: skip
    path.write_text("\n".join(["title: Harbour Lights", *([more] if more else []), "tracks:", *lines]) + "\n")
    return load_album(path)


def how(path: Path, **more) -> How:
    return replace(How(path.parent / "results", Over.TRIM, NOW), **more)


@pytest.fixture(scope="module")
def short(tmp_path_factory, pool):
    """One sound three times, the second 13 dB louder."""
    path = runs(tmp_path_factory.mktemp("short"), [music(1.5, level) for level in (0.1, 0.1 * 10 ** (13 / 20), 0.1)])
    return assemble(album_in(path, "gap: 0 s"), how(path), pool)


def read(path: Path) -> np.ndarray:
    return soundfile.read(path, dtype="int32", always_2d=True)[0].T


@pytest.mark.long
def test_the_albums_loudness_is_gated_over_all_tracks_as_ebu_tech_3341_case_3(tmp_path, pool):
    path = runs(tmp_path, [sine(*each) for each in CASE_3])
    made = assemble(album_in(path, "gap: 0 s"), how(path), pool)
    assert made.proof.measurements["loudness_lufs"] == pytest.approx(-23.0, abs=0.1)
    assert [join.step_lu for join in made.joins] == pytest.approx([13.0, -13.0], abs=0.02)


def test_the_albums_loudness_is_gated_over_all_tracks_and_agrees_with_pyloudnorm(short):
    samples, rate_hz = soundfile.read(short.proof.target)
    assert short.proof.measurements["loudness_lufs"] == pytest.approx(
        pyloudnorm.Meter(rate_hz).integrated_loudness(samples), abs=0.1)  # fmt: skip


def test_between_neighbours_the_steps_are_those_of_the_sounds(short):
    assert [join.step_lu for join in short.joins] == pytest.approx([13.0, -13.0], abs=0.02)
    assert [join.across_lu for join in short.joins] == pytest.approx([13.0, -13.0], abs=0.02)
    assert any("track 2 is 13.0 LU louder than track 1" in words for words in album_remarks(short))


def test_the_proof_is_the_files_to_the_bit_and_nothing_between(short):
    whole = np.concatenate([read(one.printed.target) for one in short.proofed], axis=1)
    assert np.array_equal(read(short.proof.target), whole)
    assert short.proof.starts == (0, 72000, 144000)


@pytest.fixture(scope="module")
def three(tmp_path_factory, pool):
    """Three tracks of 2 s, in three specs, with silence, a level, a fade and an ISRC."""
    path = runs(tmp_path_factory.mktemp("three"), [music(2.0, level) for level in (0.4, 0.5, 0.6)])
    album = album_in(path, 'artist: The Tin Lanterns\nto: [mp3, disc, archive]\ngap: 1.5 s',
                     ("isrc: XX-XXX-26-00001", "gap: 250 ms, level: -0.7 dB", "fade out: 500 ms"))  # fmt: skip
    made = assemble(album, how(path), pool)
    return made, write_order(made)


def test_every_spec_has_a_folder_and_every_checksum_holds(three):
    made, _ = three
    names = {path.relative_to(made.folder).as_posix() for path in made.folder.rglob("*") if path.is_file()}
    titles = [f"{n:02d} {name.title()}" for n, name in enumerate(NAMES, 1)]
    assert names == {*(f"mp3/{each}.mp3" for each in titles), *(f"disc/{each}.wav" for each in titles),
                     *(f"archive/{each}.wav" for each in titles), "proof.wav", "order.html", "order.csv",
                     "album.json", "checksums.sha256"}  # fmt: skip
    told = subprocess.run(["sha256sum", "-c", "checksums.sha256"], cwd=made.folder, capture_output=True, check=True,
                          text=True)  # fmt: skip
    assert told.stdout.count(": OK") == 10


def test_the_proof_is_joined_of_the_first_spec_that_is_lossless_and_edited(three):
    made, _ = three
    told = soundfile.info(made.proof.target)
    assert (told.samplerate, told.subtype) == (44100, "PCM_16")
    samples = read(made.proof.target)
    for start, one in zip(made.proof.starts, made.proofed, strict=True):
        own = read(one.printed.target)
        assert one.printed.target.parent.name == "disc"
        assert np.array_equal(samples[:, start : start + own.shape[1]], own)


def test_the_silence_between_is_digital_and_as_long_as_asked(three):
    made, _ = three
    samples, frames = read(made.proof.target), 88200
    for start, after, gap in zip(made.proof.starts, made.proof.starts[1:], (66150, 11025), strict=False):
        assert after % 588 == 0
        assert 0 <= after - start - frames - gap < 588
        assert not samples[:, start + frames : after].any()
    assert made.proof.frames == made.proof.starts[2] + frames


def test_markers_stand_where_tracks_start_as_another_reader_finds_them(three):
    made, _ = three
    told = subprocess.run(["ffprobe", "-v", "error", "-show_chapters", "-of", "json", made.proof.target],
                          capture_output=True, check=True, text=True)  # fmt: skip
    chapters = json.loads(told.stdout)["chapters"]
    assert [chapter["start"] for chapter in chapters] == list(made.proof.starts)
    assert [chapter["tags"]["title"] for chapter in chapters] == ["01 Slack-Water", "02 Two-Bells", "03 Harbour-Lights"]


def test_the_order_says_what_is_in_the_files(three):
    made, data = three
    rows = list(csv.DictReader((made.folder / "order.csv").open()))
    assert [row["ISRC"] for row in rows] == ["XXXXX2600001", "", ""]
    assert [float(row["length s"]) for row in rows] == [2.0, 2.0, 2.0]
    for row, start in zip(rows, made.proof.starts, strict=True):
        samples, rate_hz = soundfile.read(made.folder / row["file"])
        assert float(row["sample peak dBFS"]) == pytest.approx(20 * np.log10(np.abs(samples).max()), abs=0.01)
        loudness_lufs = pyloudnorm.Meter(rate_hz).integrated_loudness(samples)
        assert float(row["loudness LUFS"]) == pytest.approx(loudness_lufs, abs=0.1)
        assert float(row["start s"]) == pytest.approx(start / 44100, abs=1e-6)
    minutes, seconds, blocks = map(int, rows[1]["disc start"].split(":"))
    assert (minutes * 60 + seconds) * 75 + blocks == made.proof.starts[1] // 588
    page = (made.folder / "order.html").read_text()
    assert all(each in page for each in ("XX-XXX-26-00001", "Two-Bells", "The Tin Lanterns", rows[2]["loudness LUFS"]))
    assert str(made.folder.parent) not in page
    assert json.loads((made.folder / "album.json").read_text()) == json.loads(json.dumps(data))


def test_what_is_to_be_known_is_said(three):
    made, _ = three
    said = album_remarks(made)
    assert "no ISRC: tracks 2, 3" in said
    assert any("lowered by 0.70 dB as asked" in words for words in said)
    assert any("turns the album as one to -14 LUFS" in words for words in said)


def test_every_track_leads_back_to_its_sheet_by_its_id_and_by_its_sound(three, tmp_path):
    made, _ = three
    results = made.folder.parent
    for name, prints in zip(NAMES, made.prints, strict=True):
        for one in prints:
            assert find(one.printed.target, results).place == results / name / "variants/004/recall.json"
    bare = tmp_path / "bare.wav"
    samples, rate_hz = soundfile.read(made.prints[1][1].printed.target, dtype="int16")
    soundfile.write(bare, samples, rate_hz, "PCM_16")
    assert find(bare, results).place.parents[2].name == NAMES[1]


def test_the_same_again_goes_into_a_folder_of_its_own_and_is_the_same(short, pool):
    made = short
    again = assemble(made.album, how(made.album.path), pool)
    assert made.folder.name == "2026-11-26-harbour-lights-album"
    assert again.folder.name == f"{made.folder.name}-2"
    assert again.proof.sha256 == made.proof.sha256


def test_silence_can_be_part_of_the_files(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)] * 2)
    made = assemble(album_in(path, "gap: 1.5 s\ngaps in files: on"), how(path), pool)
    assert [one.printed.frames for one in made.proofed] == [48000 + 72000, 48000]
    assert (made.proof.starts, made.proof.frames) == ((0, 120000), 168000)
    assert [(line.length_s, line.gap_s) for line in order_lines(made)] == [(1.0, 1.5), (1.0, 0.0)]
    sections = made.proof.measurements.sections
    start_lufs = sections["start of 2"]["loudness_lufs"]
    assert sections["end of 1"]["loudness_lufs"] == pytest.approx(start_lufs, abs=0.02)


def test_tracks_at_two_rates_need_a_spec_with_a_rate(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)] * 2, (48000, 44100))
    with pytest.raises(PrintError, match=r"track 1 comes out at 48 kHz and track 2 at 44\.1 kHz"):
        assemble(album_in(path), how(path), pool)
    assert not list((tmp_path / "results").glob("*album*"))
    assert assemble(album_in(path, "to: [disc]"), how(path), pool).proof.rate_hz == 44100


def test_mono_beside_stereo_is_refused(tmp_path, pool):
    path = runs(tmp_path, [music(1.0), music(1.0)[:1]])
    with pytest.raises(PrintError, match="track 1 has 2 channels and track 2 has 1"):
        assemble(album_in(path), how(path), pool)


def test_two_files_of_one_name_are_refused(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)] * 2)
    with pytest.raises(PrintError, match="two files would be called 24-bit/x"):
        assemble(album_in(path, "name: x"), how(path), pool)


def test_over_the_ceiling_it_stops_before_anything_is_made(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)] * 2)
    with pytest.raises(OverCeiling, match="24-bit would have"):
        assemble(album_in(path), how(path, over=Over.STOP, ceiling_dbtp=-20.0), pool)
    assert not list((tmp_path / "results").glob("*album*"))


def test_a_render_that_was_changed_is_refused_before_anything_is_made(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)] * 2)
    render = tmp_path / "results" / NAMES[1] / "variants/004/render.wav"
    content = bytearray(render.read_bytes())
    content[-100] ^= 1
    render.write_bytes(content)
    with pytest.raises(AudioFileError, match="changed after the run"):
        assemble(album_in(path), how(path), pool)
    assert not list((tmp_path / "results").glob("*album*"))


def picks(run: Path, **verdicts: str) -> None:
    (run / "audition").mkdir(exist_ok=True)
    document = {"schema": 1, "run": "x#1", "revision": 1, "saved": "", "trials": [], "ranking": {},
                "picks": {id.lstrip("v"): {"verdict": verdict, "notes": []}
                          for id, verdict in verdicts.items()}}  # fmt: skip
    (run / "audition/notes.json").write_text(json.dumps(document))


def test_a_variant_that_is_not_there_is_a_fault_of_its_line(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)] * 2)
    album_in(path)
    path.write_text(path.read_text().replace("variant: 4", "variant: 7", 1))
    with pytest.raises(ChainFileError) as raised:
        assemble(load_album(path), how(path), pool)
    (problem,) = raised.value.problems
    assert problem.line == 3
    assert "has no variant 7" in problem.what


def test_a_run_without_a_table_has_no_pick(tmp_path, pool):
    path = runs(tmp_path, [music(1.0)])
    picks(tmp_path / "results" / NAMES[0], v004="keep")
    path.write_text(f"title: x\ntracks: [{{run: results/{NAMES[0]}}}]\n")
    with pytest.raises(ChainFileError, match="no run's folder"):
        assemble(load_album(path), how(path), pool)


def test_a_draft_needs_runs_with_sound(tmp_path):
    with pytest.raises(RunFolderError, match="is not there"):
        drafted([tmp_path / "none"], "x", tmp_path)


@pytest.fixture
def heard(tmp_path):
    """A run with a table: 001, 002 and 003 of one mix."""
    return made_run(tmp_path)


def picking(heard: Path, **own: str):
    path = heard.parent / "x.album.yaml"
    more = "".join(f", {key}: {value}" for key, value in own.items())
    path.write_text(f"title: x\ntracks:\n  - {{run: {heard.name}{more}}}\n")
    return load_album(path)


def test_without_a_number_it_is_the_one_that_was_picked(heard):
    picks(heard, v001="drop", v003="keep")
    (track,) = find_tracks(picking(heard))
    assert (track.kept.id, track.picked, track.title) == ("003", True, "Lantern")


@pytest.mark.parametrize(
    ("verdicts", "own", "what", "remedy"),
    [({"v001": "maybe"}, {}, "nothing is picked to keep", "write variant: NUMBER"),
     ({"v001": "keep", "v002": "keep"}, {}, "2 variants are picked to keep in run: 001, 002", "write variant: 001"),
     ({"v001": "keep"}, {"mix": "other"}, "has no mix 'other'", "write one of mix.wav")],
)  # fmt: skip
def test_where_no_one_variant_is_picked_it_is_a_fault_of_the_line(heard, verdicts, own, what, remedy):
    picks(heard, **verdicts)
    with pytest.raises(ChainFileError) as raised:
        find_tracks(picking(heard, **own))
    (problem,) = raised.value.problems
    assert (problem.line, what in problem.what, remedy in problem.remedy) == (3, True, True), problem


def test_a_draft_takes_what_was_picked_and_can_be_put_together(heard):
    picks(heard, v003="keep")
    path = heard.parent / "draft.album.yaml"
    path.write_text(drafted([heard], "Tin Boats: live", heard.parent))
    album = load_album(path)
    (track,) = album.tracks
    assert (album.title, track.variant, track.title) == ("Tin Boats: live", "003", "mix")


def test_a_draft_takes_the_first_where_nothing_was_picked(heard):
    text = drafted([heard], "x", heard.parent)
    assert "nothing was picked: the first" in text


def test_the_proof_is_told_from_a_master_and_its_tracks_are_named(short):
    write_order(short)
    with pytest.raises(SheetError, match="is the proof of the album 'Harbour Lights'") as raised:
        find(short.proof.target, short.folder.parent)
    assert str(short.proofed[0].printed.target) in raised.value.remedy


def test_a_file_of_an_albums_name_that_is_none_changes_nothing(short, tmp_path):
    (tmp_path / "album.json").write_text('{"proof": null, "tracks": 3}')
    with pytest.raises(SheetError, match="is the proof of the album"):
        find(short.proof.target, tmp_path, [short.folder.parent])


def test_tracks_of_one_title_are_told(heard, pool):
    for id in ("001", "002"):
        sheet = heard / "variants" / id / "recall.json"
        sheet.write_text(sheet.read_text().replace(json.loads(sheet.read_text())["audio_sha256"], sample_hash(
            inspect(heard / "variants" / id / "render.wav"))))  # fmt: skip
    path = heard.parent / "x.album.yaml"
    path.write_text(f"title: x\ntracks: [{{run: {heard.name}, variant: 1}}, {{run: {heard.name}, variant: 2}}]\n")
    made = assemble(load_album(path), how(path), pool)
    assert "tracks 1, 2 have one title: write title: under each" in album_remarks(made)
