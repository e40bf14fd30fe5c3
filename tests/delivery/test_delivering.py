"""Prints of a kept render: read back by libsndfile, ffprobe and by their bytes, never by what was meant."""

from __future__ import annotations

import hashlib
import json
import struct
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from printing import asked, kept_in, music, run_with

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.audio.labels import Labels, reference_of
from sweeper.chain.print_model import Edits
from sweeper.chain.print_specs import find_spec
from sweeper.delivery.ceiling import Over
from sweeper.delivery.delivering import deliver
from sweeper.delivery.kept import Ceiling
from sweeper.delivery.planned import solved_again
from sweeper.delivery.remarks import remarks
from sweeper.errors import AudioFileError, OverCeiling, PrintError, RunFolderError
from sweeper.recall.find import find
from sweeper.workers import Pool

ALL = ("24-bit", "disc", "archive", "flac", "aiff", "mp3", "vorbis", "opus")
#: In the order of EBU Tech 3285.
LOUDNESS_FIELDS = ("loudness_lufs", "loudness_range_lu", "true_peak_dbtp", "momentary_max_lufs",
                   "short_term_max_lufs")  # fmt: skip
EDITS = Edits(0.25, 1.75, 0.01, 0.2)


@pytest.fixture(scope="module")
def pool():
    with Pool(1) as pool:
        yield pool


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    return run_with(tmp_path_factory.mktemp("run"), music())


@pytest.fixture(scope="module")
def delivery(run, pool):
    kept = kept_in(run)
    return deliver(kept, asked(kept, *ALL, edits=EDITS), pool)


def one(delivery, spec):
    return next(each for each in delivery.prints if each.order.spec.name == spec)


def read(each):
    return soundfile.read(each.printed.target, dtype="float64", always_2d=True)[0].T


@pytest.mark.parametrize(
    ("spec", "container", "subtype", "rate_hz", "frames"),
    [("24-bit", "WAV", "PCM_24", 48000, 72000), ("disc", "WAV", "PCM_16", 44100, 66150),
     ("archive", "WAV", "FLOAT", 48000, 96000), ("flac", "FLAC", "PCM_24", 48000, 72000),
     ("aiff", "AIFF", "PCM_24", 48000, 72000), ("mp3", "MP3", "MPEG_LAYER_III", 44100, 66150),
     ("vorbis", "OGG", "VORBIS", 44100, 66150), ("opus", "OGG", "OPUS", 48000, 72000)],
)  # fmt: skip
def test_each_file_is_what_its_spec_says_and_as_long_as_the_edits(delivery, spec, container, subtype, rate_hz, frames):
    told = soundfile.info(one(delivery, spec).printed.target)
    assert (told.format, told.subtype, told.samplerate, told.frames) == (container, subtype, rate_hz, frames)


def test_the_archive_is_the_render_whatever_else_is_asked_for(delivery, run):
    assert np.array_equal(read(one(delivery, "archive")), music().astype(np.float64))
    assert one(delivery, "archive").printed.identical


def test_the_order_is_trim_gain_dither_word(delivery):
    """24 bits at the same rate: each word is the render's frame, faded and turned down, within two steps."""
    each = one(delivery, "24-bit")
    wanted = music().astype(np.float64)[:, 12000:84000] * 10 ** (each.order.gain_db / 20)
    fade = np.ones(72000)
    fade[:480] = 0.5 - 0.5 * np.cos(np.pi * np.arange(1, 481) / 481)
    fade[-9600:] = (0.5 - 0.5 * np.cos(np.pi * np.arange(1, 9601) / 9601))[::-1]
    left = read(each) - wanted * fade
    assert np.abs(left).max() <= 2 * 2.0**-23
    # total power of TPDF dither and rounding: -144.49 dBFS (Lipshitz, Wannamaker, Vanderkooy 1992)
    assert 10 * np.log10(np.mean(left**2)) == pytest.approx(-144.49, abs=0.1)


@pytest.mark.parametrize("spec", ["24-bit", "disc", "flac", "aiff"])
def test_what_is_told_is_measured_in_the_file_and_under_the_ceiling(delivery, spec):
    each = one(delivery, spec)
    measured = meter.measure(read(each), AudioFormat(2, each.printed.format.rate_hz))
    assert each.printed.measurements["loudness_lufs"] == pytest.approx(measured["loudness_lufs"], abs=1e-6)
    assert each.printed.measurements["true_peak_dbtp"] == pytest.approx(measured["true_peak_dbtp"], abs=1e-6)
    assert -1.05 < measured["true_peak_dbtp"] <= -0.995
    assert each.order.gain_db < 0
    assert any("trimmed by" in remark for remark in remarks(each))
    assert each.printed.clipped == 0


def test_bext_holds_the_loudness_by_the_offsets_of_ebu_tech_3285(delivery):
    """Read by offsets: Version at 346; loudness, range, true peak, momentary and short-term maxima from 412 on."""
    each = one(delivery, "disc")
    content = each.printed.target.read_bytes()
    at = content.index(b"bext") + 8
    assert content[at + 288 : at + 320].rstrip(b"\0").decode() == each.order.labels.reference
    assert struct.unpack_from("<H", content, at + 346) == (2,)
    told = [value / 100 for value in struct.unpack_from("<5h", content, at + 412)]
    wanted = [each.printed.measurements[key] for key in
              LOUDNESS_FIELDS]  # fmt: skip
    assert told[0] == pytest.approx(wanted[0], abs=0.00501)
    assert [
        one for one, other in zip(told, wanted, strict=True) if other is not None and abs(one - other) > 0.00501
    ] == []


@pytest.mark.parametrize("spec", ["mp3", "vorbis", "opus"])
def test_lossy_files_are_decoded_and_ffmpeg_hears_the_same(delivery, spec, tmp_path):
    each = one(delivery, spec)
    assert each.printed.coded.delay_frames == 0
    assert each.printed.coded.left_db < -4  # noise in every band is what coders are worst at
    out = tmp_path / "a.wav"
    command = ["ffmpeg", "-v", "error", "-i", str(each.printed.target), "-c:a", "pcm_f32le", str(out)]
    subprocess.run(command, check=True)
    theirs, rate_hz = soundfile.read(out, always_2d=True)
    measured = meter.measure(np.ascontiguousarray(theirs.T), AudioFormat(2, rate_hz))
    assert measured["loudness_lufs"] == pytest.approx(each.printed.measurements["loudness_lufs"], abs=0.02)
    assert measured["true_peak_dbtp"] == pytest.approx(each.printed.measurements["true_peak_dbtp"], abs=0.1)


def test_flac_finds_no_fault(delivery):
    subprocess.run(["flac", "-t", "-s", str(one(delivery, "flac").printed.target)], check=True)


def test_checksums_are_those_of_the_files_and_in_the_form_that_sha256sum_reads(delivery):
    lines = delivery.places.checksums.read_text().splitlines()
    assert len(lines) == len(ALL)
    for line in lines:
        digest, name = line.split("  ", 1)
        assert hashlib.sha256((delivery.places.folder / name).read_bytes()).hexdigest() == digest


def test_nothing_private_is_in_what_goes_out(delivery, run):
    private = [str(run), str(Path.home()), "mix.wav", "ZaMaximX2", "Threshold", "-7.1", "recall.json", "render.wav"]
    for each in (*delivery.places.targets, delivery.places.checksums):
        content = each.read_bytes()
        assert [word for word in private if word.encode() in content] == [], each.name
    assert {each.name for each in delivery.places.folder.iterdir()} == {
        *(each.name for each in delivery.places.targets), "checksums.sha256"}  # fmt: skip


@pytest.mark.parametrize("spec", ALL)
def test_the_id_in_every_file_leads_back_to_the_sheet(delivery, run, spec):
    path = one(delivery, spec).printed.target
    assert reference_of(path) == kept_in(run).sheet.id
    assert find(path, run.parent).place == run / "variants/004/recall.json"


def test_the_manifest_stays_in_the_run_and_tells_how_each_was_made(delivery, run):
    data = json.loads((run / "prints/004.json").read_text())
    assert data == json.loads(json.dumps(delivery.data))
    disc = next(each for each in data["files"] if each["spec"]["name"] == "disc")
    assert disc["frames"] == {"render": 96000, "start": 11025, "end": 77175, "fade_in": 441, "fade_out": 8820,
                              "silence": 0, "printed": 66150}  # fmt: skip
    assert (disc["dither"], disc["rate_conversion"]["by"]) == ("shaped", "soxr VHQ")
    assert disc["seed"]
    assert (run / "prints" / disc["sheet"]).resolve() == (run / "variants/004/recall.json").resolve()


def test_the_same_again_gives_the_same_bytes_in_a_folder_of_its_own(delivery, run, pool):
    kept = kept_in(run)
    again = deliver(kept, asked(kept, "disc", "flac", edits=EDITS), pool)
    assert again.places.folder == run / "prints/004-2"
    for spec in ("disc", "flac"):
        assert one(again, spec).printed.sha256 == one(delivery, spec).printed.sha256


def test_a_folder_of_ones_own_is_never_written_over(run, pool, tmp_path):
    kept = kept_in(run)
    deliver(kept, asked(kept, "disc", out=tmp_path), pool)
    before = {each.name: each.read_bytes() for each in tmp_path.iterdir()}
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        deliver(kept, asked(kept, "archive", "disc", out=tmp_path), pool)
    assert {each.name: each.read_bytes() for each in tmp_path.iterdir()} == before
    deliver(kept, asked(kept, "archive", out=tmp_path), pool)
    assert (tmp_path / "checksums-2.sha256").is_file()


def test_over_the_ceiling_stop_prints_nothing(run, pool, tmp_path):
    kept = kept_in(run)
    with pytest.raises(OverCeiling, match="disc would have") as error:
        deliver(kept, asked(kept, "disc", over=Over.STOP, out=tmp_path / "new"), pool)
    assert error.value.exit_code == 1
    assert not (tmp_path / "new").exists()


def test_over_the_ceiling_solve_takes_a_render_that_lies_lower(run, pool, tmp_path):
    kept = kept_in(run)
    goals = []

    def solve(of, goal_dbtp):
        goals.append(goal_dbtp)
        return kept_in(
            run_with(tmp_path, (music() * 10 ** ((goal_dbtp - of_peak) / 20)).astype(np.float32), "001"), "001"
        )

    of_peak = kept.sheet.measurements["true_peak_dbtp"]
    made = deliver(kept, asked(kept, "24-bit", "archive", over=Over.SOLVE, solve=solve, out=tmp_path / "new"), pool)
    assert goals == [pytest.approx(-1.01, abs=0.006)]
    assert one(made, "24-bit").order.gain_db == 0
    assert one(made, "24-bit").kept.id == "001"
    assert one(made, "24-bit").printed.measurements["true_peak_dbtp"] <= -1.0
    assert one(made, "archive").kept.id == "004"  # as rendered: nothing is over


def test_a_ceiling_that_no_solving_reaches_is_told(run, pool):
    kept = kept_in(run)
    wish = asked(kept, "24-bit")
    from sweeper.delivery.orders import PrintOrder
    from sweeper.delivery.planned import Planned, looked_ahead

    order = PrintOrder(kept.render, kept.sheet.audio_sha256, wish.specs[0], Edits(), Path("x.wav"), wish.labels, "", "")
    looked = looked_ahead([Planned(order, Ceiling(-1.0, ""), kept)], pool)
    with pytest.raises(OverCeiling, match="solved 3 times"):
        solved_again(looked, lambda of, goal_dbtp: of, pool)


def test_a_render_that_was_changed_is_refused(tmp_path, pool):
    kept = kept_in(run_with(tmp_path, music(0.5)))
    kept = replace(kept, sheet=replace(kept.sheet, audio_sha256="0" * 64))
    with pytest.raises(AudioFileError, match="no longer holds what its sheet says"):
        deliver(kept, asked(kept, "disc"), pool)


@pytest.mark.parametrize(("bits", "said"), [(16, "a grid of 16 bit"), (24, "a grid of 24 bit"), (None, "")])
def test_a_render_on_a_grid_is_warned_of(tmp_path, pool, bits, said):
    samples = music(0.5, 0.4)
    if bits:
        samples = np.round(samples * 2.0 ** (bits - 1)).astype(np.float32) / np.float32(2.0 ** (bits - 1))
    kept = kept_in(run_with(tmp_path, samples))
    made = deliver(kept, asked(kept, "disc"), pool)
    found = [remark for remark in remarks(made.prints[0]) if "grid" in remark]
    assert bool(found) == bool(bits)
    assert all(said in remark and "dithered a second time" in remark for remark in found)


def test_what_cannot_be_printed_is_told_before_anything_is_written(run, pool, tmp_path):
    kept = kept_in(run)
    with pytest.raises(PrintError, match="two files would be called"):
        deliver(kept, asked(kept, "disc", "24-bit", pattern="{title}", out=tmp_path), pool)
    with pytest.raises(PrintError, match=r"to end at 9 s, and the render lasts 2\.000 s"):
        deliver(kept, asked(kept, "disc", edits=Edits(end_s=9.0), out=tmp_path), pool)
    with pytest.raises(PrintError, match="MP3 holds no 96 kHz") as error:
        spec = replace(find_spec("mp3", Path()), rate_hz=None)
        high = replace(kept, render=_at(tmp_path / "high.wav", 96000))
        deliver(high, asked(kept, "disc", specs=(spec,), out=tmp_path / "new"), pool)
    assert "write rate: 32 kHz or 44.1 kHz or 48 kHz" in error.value.remedy
    assert not (tmp_path / "new").exists()


def _at(path, rate_hz):
    soundfile.write(path, np.zeros((100, 2)), rate_hz, subtype="FLOAT")
    return path


def test_a_variant_that_was_not_kept_is_to_be_recalled_first(tmp_path):
    run = run_with(tmp_path, music(0.1))
    (run / "variants/004/render.wav").unlink()
    with pytest.raises(PrintError, match="it was not kept") as error:
        kept_in(run, "4")
    assert "sweeper recall" in error.value.remedy
    with pytest.raises(PrintError, match="has no variant 7"):
        kept_in(run, "7")
    with pytest.raises(RunFolderError, match="holds no variants"):
        kept_in(tmp_path)
    with pytest.raises(RunFolderError, match="is not there"):
        kept_in(tmp_path / "none")


@pytest.fixture(scope="module")
def track(run, pool):
    """The second of three tracks, 0.7 dB down, with 1.5 s of silence behind it."""
    kept = kept_in(run)
    labels = Labels("", "Lantern Bay", "The Pilots", "XXXXX2600001", "Harbour Lights", 2, 3)
    return deliver(kept, asked(kept, *ALL, labels=labels, edits=Edits(silence_s=1.5), level_db=-0.7,
                               ceiling=Ceiling(None, "none"),
                               pattern="{track} {title} {spec}"), pool)  # fmt: skip


@pytest.mark.parametrize("spec", [spec for spec in ALL if spec != "archive"])
def test_album_and_track_number_stand_in_every_file_as_another_reader_finds_them(track, spec):
    path = one(track, spec).printed.target
    told = subprocess.run(["ffprobe", "-v", "error", "-show_entries", "format_tags:stream_tags", "-of", "json", path],
                          capture_output=True, check=True, text=True)  # fmt: skip
    found = json.loads(told.stdout)
    tags = {key.lower(): value for part in (found.get("format", {}), *found.get("streams", []))
            for key, value in part.get("tags", {}).items()}  # fmt: skip
    number = tags["track"] if "/" in tags["track"] else f"{tags['track']}/{tags['tracktotal']}"
    assert (tags["album"], number, path.stem) == ("Harbour Lights", "2/3", f"02 Lantern Bay {spec}")


def test_the_silence_is_in_the_file_and_the_level_before_the_words(track):
    samples = read(one(track, "24-bit"))
    assert samples.shape[1] == 96000 + 72000
    step = 2.0**-23
    assert np.abs(samples[:, 96000:]).max() <= 2 * step
    assert np.abs(samples[:, :96000] - music() * 10 ** (-0.7 / 20)).max() <= 2 * step
    assert any("lowered by 0.70 dB as asked" in words for words in remarks(one(track, "24-bit")))


def test_on_a_disc_what_comes_next_starts_on_a_block(track):
    """IEC 60908: 75 blocks a second, of 588 frames at 44.1 kHz (from memory)."""
    assert one(track, "disc").printed.frames == -(-(88200 + 66150) // 588) * 588


def test_the_archive_has_neither(track):
    assert one(track, "archive").printed.identical
