"""The `print` key and print specs: what is read, and every fault at its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.audio import Word
from sweeper.chain.file_names import file_name
from sweeper.chain.print_model import Edits
from sweeper.chain.print_specs import find_spec, load_spec, spec_names
from sweeper.chain.prints import parse_isrc, wishes_in
from sweeper.errors import ChainFileError

ROOT = Path(__file__).parents[2]
VALID = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick}\n"
OWN = "format: WAV\nrate: 48 kHz\nword: 16 bit\ndither: tpdf\nceiling: -2 dBTP\nname: '{artist} {title}'\n"


@pytest.mark.parametrize("name", spec_names())
def test_every_spec_that_comes_along_is_read_and_lies_in_configs(name):
    spec = find_spec(name, Path())
    assert spec.name == name
    assert spec.about
    assert (ROOT / "configs" / "prints" / f"{name}.yaml").is_file()


def test_the_disc_is_16_bit_at_44_1_khz_as_iec_60908_has_it():
    disc = find_spec("disc", Path())
    assert (disc.format, disc.rate_hz, disc.word) == ("WAV", 44100, Word.PCM_16)


def test_print_is_read(load, tmp_path):
    chain = load(VALID + 'print: {to: [disc, Archive], title: Lantern Bay, artist: The Pilots, isrc: xx-xxx-26-00001, '
                 'start: "0:00.5", end: "1:02", fade in: 10 ms, fade out: 3 s}\n')  # fmt: skip
    wishes = chain.prints
    assert [spec.name for spec in wishes.to] == ["disc", "archive"]
    assert (wishes.title, wishes.artist, wishes.isrc) == ("Lantern Bay", "The Pilots", "XXXXX2600001")
    assert wishes.edits == Edits(0.5, 62.0, 0.01, 3.0)


FAULTS = [
    ("{to: [dics]}", "no print spec is called 'dics'", "did you mean 'disc'?"),
    ("{to: [disc, disc]}", "'disc' stands twice in 'to'", "keep one of the two"),
    ("{to: [none.yaml]}", "there is no such file", "check the name and the folder"),
    ("{tittle: x}", "unknown key 'tittle' in print", "did you mean 'title'?"),
    ("{isrc: XX-26}", "isrc is 'XX-26'", "XX-XXX-26-00001"),
    ("{start: soon}", "start is 'soon', no time", "write a time"),
    ('{start: "1:00", end: "0:50"}', "'end' lies at or before 'start'", "later time"),
    ("{fade out: 3}", "fade out is '3', no length of time", "write 0 s to 120 s, or ms"),
]


@pytest.mark.parametrize(("written", "what", "remedy"), FAULTS)
def test_a_fault_in_print_is_told(problems, written, what, remedy):
    (problem,) = problems(f"{VALID}print: {written}\n")
    assert what in problem.what
    assert remedy in problem.remedy


def test_a_title_belongs_to_one_mix(problems):
    (problem,) = problems(VALID.replace("mix: a.wav", "mixes: [a.wav, b.wav]") + "print: {title: x}\n")
    assert problem.what == "'title' belongs to one mix, and there are 2"


def test_a_spec_of_ones_own_lies_beside_the_chain_file_and_its_faults_are_its_own(load, problems, tmp_path):
    (tmp_path / "mine.yaml").write_text(OWN)
    (spec,) = load(VALID + "print: {to: mine.yaml}\n").prints.to
    assert (spec.name, spec.rate_hz, spec.ceiling_dbtp, spec.pattern) == ("mine", 48000, -2.0, "{artist} {title}")
    (tmp_path / "mine.yaml").write_text("format: WAV\nword: 17 bit\n")
    (problem,) = problems(VALID + "print: {to: mine.yaml}\n")
    assert (problem.file, problem.line, problem.column) == ("mine.yaml", 2, 7)


SPEC_FAULTS = [
    ("format: WAVE\nword: 24 bit", "format is 'WAVE'", "did you mean 'WAV'?"),
    ("word: 24 bit", "the spec names no format", "add format"),
    ("format: WAV", "this WAV file has no word length", "add word: 24 bit"),
    ("format: FLAC\nword: 32-bit float", "FLAC files are printed with 16 or 24 bit", "word: 24 bit"),
    ("format: WAV\nword: 32-bit float\ndither: tpdf", "32-bit float is not rounded", "take 'dither' out"),
    ("format: MP3\nbit rate: 320 kbps\ndither: tpdf", "lossy encoders get the sound undithered", "take 'dither' out"),
    ("format: MP3\nbit rate: 320 kbps\nrate: 96 kHz", "MP3 holds no 96 kHz", "32 kHz or 44.1 kHz or 48 kHz"),
    ("format: Opus\nbit rate: 160 kbps\nrate: 44.1 kHz", "Opus holds no 44.1 kHz", "write rate: 48 kHz"),
    ("format: MP3", "this MP3 file has no bit rate", "add bit rate: 320 kbps"),
    ("format: MP3\nbit rate: 500 kbps", "bit rate is '500 kbps'", "write 32 to 320 kbps"),
    ("format: Vorbis\nbit rate: 160 kbps\nquality: 5", "Vorbis has no bit rate to set", "write quality"),
    ("format: Vorbis\nquality: 11", "quality is 11", "write 0 to 10"),
    ("format: WAV\nword: 24 bit\nquality: 5", "WAV has no quality to set", "take it out"),
    ("format: WAV\nword: 24 bit\nrate: fast", "rate is 'fast'", "44.1 kHz"),
    ("format: WAV\nword: 16 bit\nrate: 96 kHz\ndither: shaped", "shaped dither is made for 44.1 and 48 kHz",
     "dither: tpdf"),
    ("format: WAV\nword: 24 bit\nas rendered: on", "a render is a 32-bit float WAV file", "take 'as rendered' out"),
    ("format: WAV\nword: 24 bit\nname: '{who}'", "name has '{who}'", "known are {title}"),
    ("format: WAV\nword: 24 bit\nname: a/{title}", "with a folder in it", "--out"),
    ("[a, b]", "the spec is a list, not a mapping", "begin with e.g. format: WAV"),
    ("", "is empty", "begin with e.g. format: WAV"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "what", "remedy"), SPEC_FAULTS)
def test_a_fault_in_a_spec_is_told_and_speaks_of_no_chain_file(tmp_path, text, what, remedy):
    (tmp_path / "mine.yaml").write_text(text + "\n")
    with pytest.raises(ChainFileError) as error:
        load_spec(tmp_path / "mine.yaml", "mine.yaml")
    (problem,) = error.value.problems
    assert what in problem.what
    assert remedy in problem.remedy
    assert "chain file" not in str(problem)


def test_an_unknown_name_outside_any_file_names_the_nearest():
    with pytest.raises(ChainFileError, match=r"no print spec is called 'dsic'(?s:.*)did you mean 'disc'"):
        find_spec("dsic", Path())


def test_wishes_are_read_again_from_a_chain_file_whose_mix_is_gone(tmp_path):
    (tmp_path / "mine.yaml").write_text(OWN)
    text = "mix: gone.wav\nprint: {to: [mine.yaml], title: X}\n"
    wishes = wishes_in(text, tmp_path / "a.chain.yaml", "a.chain.yaml")
    assert ([spec.name for spec in wishes.to], wishes.title) == (["mine"], "X")
    assert wishes_in("mix: gone.wav\n", tmp_path / "a.chain.yaml", "a.chain.yaml").to == ()


@pytest.mark.parametrize(("text", "isrc"), [("XX-XXX-26-00001", "XXXXX2600001"), ("xx3zz2600417", "XX3ZZ2600417"),
                                            ("XX-XXX-26-0001", None), ("1X-XXX-26-00001", None)])  # fmt: skip
def test_isrcs_as_iso_3901_has_them(text, isrc):
    assert parse_isrc(text) == isrc


@pytest.mark.parametrize(
    ("pattern", "title", "name"),
    [
        ("{title} ({spec})", "Lantern Bay", "Lantern Bay (disc).wav"),
        ("{artist} - {title}", "A/B: \"C\"?", "A-B- -C.wav"),
        ("{title}", "  ..  ", "print.wav"),
        ("{title} ({isrc})", "Nul", "_Nul.wav"),
        ("{title}", "x" * 400, "x" * 150 + ".wav"),
    ],
)  # fmt: skip
def test_names_are_ones_that_every_disk_takes(pattern, title, name):
    assert file_name(pattern, {"title": title, "spec": "disc", "artist": "", "isrc": ""}, ".wav") == name
