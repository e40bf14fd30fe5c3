"""Files that libsndfile writes for us, and what they say of themselves, read back by ffprobe, ffmpeg and flac."""

from __future__ import annotations

import subprocess

import numpy as np
import pytest
import soundfile

from sweeper.audio import BroadcastTag, WavWriter, Word, inspect
from sweeper.audio.encoded import EncodedWriter, Encoding
from sweeper.audio.labels import Labels, reference_of, wav_chunks
from sweeper.audio.sample_hash import sample_hash
from sweeper.errors import AudioFileError, RunFolderError

LABELS = Labels("8f3c19d2", "Lantern Bäy", "The Pilots & Co", "XXXXX2600001")
TAG = BroadcastTag("8f3c19d2", "2026-11-24", "18:05:09", -10.02, 5.5, -1.0, -7.25, -8.5)
ENDINGS = {"AIFF": "aiff", "FLAC": "flac", "MP3": "mp3", "VORBIS": "ogg", "OPUS": "opus"}
LOSSY = [Encoding("MP3", kbps=320), Encoding("VORBIS", quality=6), Encoding("OPUS", kbps=160)]


def words_of(word, frames=4801, channels=2):
    full = word.words_to_full_scale
    return np.random.default_rng(1).integers(-full, full, (channels, frames)).astype(np.int32)


def write(path, samples, encoding, rate_hz=48000):
    with EncodedWriter(path, len(samples), rate_hz, encoding) as writer:
        for at in range(0, samples.shape[1], 1000):
            writer.write(samples[:, at : at + 1000])
        writer.commit(LABELS)
    return path


def wav(path, words, word, channels=2):
    with WavWriter(path, channels, 44100, word=word) as writer:
        writer.write(words)
        writer.commit(TAG, wav_chunks(LABELS))
    return path


@pytest.mark.parametrize("word", [Word.PCM_16, Word.PCM_24])
@pytest.mark.parametrize("container", ["AIFF", "FLAC"])
def test_every_word_comes_back(tmp_path, ffmpeg_samples, container, word):
    words = words_of(word)
    path = write(tmp_path / f"a.{ENDINGS[container]}", words, Encoding(container, word))
    assert np.array_equal(ffmpeg_samples(path, 2), word.floats(words))
    assert (soundfile.info(path).subtype, soundfile.info(path).format) == (f"PCM_{word.value}", container)


@pytest.mark.parametrize("word", [Word.PCM_16, Word.PCM_24])
@pytest.mark.parametrize(("channels", "frames"), [(1, 4801), (2, 4801), (1, 3)])
def test_integer_wav_files_hold_every_word_and_are_whole(tmp_path, ffmpeg_samples, word, channels, frames):
    words = words_of(word, frames, channels)
    path = wav(tmp_path / "a.wav", words, word, channels)
    assert np.array_equal(ffmpeg_samples(path, channels), word.floats(words))
    assert int.from_bytes(path.read_bytes()[4:8], "little") == path.stat().st_size - 8
    assert inspect(path).encoding == f"PCM_{word.value}"
    assert path.stat().st_size % 2 == 0


def test_the_hash_of_words_is_that_of_the_floats_they_stand_for(tmp_path):
    words = words_of(Word.PCM_16)
    path = wav(tmp_path / "a.wav", words, Word.PCM_16)
    flac = write(tmp_path / "a.flac", words, Encoding("FLAC", Word.PCM_16), 44100)
    assert sample_hash(inspect(path)) == sample_hash(inspect(flac))


def test_flac_finds_no_fault_in_our_flac_files(tmp_path):
    path = write(tmp_path / "a.flac", words_of(Word.PCM_24), Encoding("FLAC", Word.PCM_24))
    subprocess.run(["flac", "-t", "-s", str(path)], check=True)


@pytest.mark.parametrize("encoding", LOSSY, ids=lambda each: each.container)
def test_ffmpeg_decodes_what_we_encoded_to_what_libsndfile_makes_of_it(tmp_path, ffmpeg_samples, encoding):
    tone = np.tile(0.5 * np.sin(2 * np.pi * 997 / 48000 * np.arange(48000)), (2, 1))
    path = write(tmp_path / f"a.{ENDINGS[encoding.container]}", tone, encoding)
    ours, theirs = soundfile.read(path, always_2d=True)[0].T, ffmpeg_samples(path, 2)
    frames = min(ours.shape[1], theirs.shape[1])
    assert ours.shape[1] == 48000
    assert np.abs(ours[:, 2000 : frames - 2000] - theirs[:, 2000 : frames - 2000]).max() < 2e-3
    assert np.abs(ours - tone)[:, 2000:-2000].max() < 0.02


@pytest.mark.parametrize(("encoding", "kbps"), [(Encoding("MP3", kbps=128), 128), (Encoding("MP3", kbps=320), 320),
                                                (Encoding("OPUS", kbps=96), 96)])  # fmt: skip
def test_bit_rates_are_those_asked_for(tmp_path, ffprobe, noise, encoding, kbps):
    path = write(tmp_path / f"a.{ENDINGS[encoding.container]}", noise(2, 48000 * 4), encoding)
    assert int(ffprobe(path)["format"]["bit_rate"]) / 1000 == pytest.approx(kbps, rel=0.06)


@pytest.mark.parametrize("encoding", [Encoding("AIFF"), Encoding("FLAC"), *LOSSY], ids=lambda each: each.container)
def test_ffprobe_reads_the_labels(tmp_path, ffprobe, noise, encoding):
    samples = words_of(Word.PCM_16) if encoding.container in ("AIFF", "FLAC") else noise(2, 9600)
    path = write(tmp_path / f"a.{ENDINGS[encoding.container]}", samples, encoding)
    found = ffprobe(path)
    tags = {**found["streams"][0].get("tags", {}), **found["format"].get("tags", {})}
    tags = {name.lower(): text for name, text in tags.items()}
    assert (tags["title"], tags["artist"]) == (LABELS.title, LABELS.artist)
    assert tags.get("isrc", tags.get("tsrc")) == LABELS.isrc
    assert reference_of(path) == LABELS.reference


def test_ffprobe_reads_title_and_id_of_wav_files_and_the_isrc_is_in_axml(tmp_path, ffprobe):
    path = wav(tmp_path / "a.wav", words_of(Word.PCM_24, 4801, 1), Word.PCM_24, 1)
    tags = ffprobe(path)["format"]["tags"]
    assert (tags["title"], tags["artist"]) == (LABELS.title, LABELS.artist)
    assert tags["originator_reference"] == LABELS.reference
    assert b"<dc:identifier>ISRC:XXXXX2600001</dc:identifier>" in path.read_bytes()
    assert reference_of(path) == LABELS.reference


def test_nothing_given_is_nothing_written(tmp_path):
    assert wav_chunks(Labels("id")) == b""


def test_a_file_of_others_has_no_id(tmp_path, noise):
    for name, kind in (("a.flac", "FLAC"), ("a.mp3", "MP3"), ("a.wav", "WAV")):
        soundfile.write(tmp_path / name, noise(1, 4800).T, 48000, format=kind)
        assert reference_of(tmp_path / name) == ""
    (tmp_path / "a.txt").write_text("no sound")
    assert reference_of(tmp_path / "a.txt") == ""
    with pytest.raises(AudioFileError, match="no such file"):
        reference_of(tmp_path / "none.wav")


def test_a_name_that_is_taken_is_refused_and_an_unfinished_file_leaves_nothing(tmp_path):
    (tmp_path / "a.flac").write_bytes(b"mine")
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        write(tmp_path / "a.flac", words_of(Word.PCM_16), Encoding("FLAC"))
    assert (tmp_path / "a.flac").read_bytes() == b"mine"
    with EncodedWriter(tmp_path / "b.flac", 2, 48000, Encoding("FLAC")) as writer:
        writer.write(words_of(Word.PCM_16))
    assert [each.name for each in tmp_path.iterdir()] == ["a.flac"]
    with pytest.raises(RunFolderError, match="is not there"):
        write(tmp_path / "no" / "a.flac", words_of(Word.PCM_16), Encoding("FLAC"))
