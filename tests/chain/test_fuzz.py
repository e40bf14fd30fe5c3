"""Whatever stands in the file, it loads or is refused in words."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sweeper.chain import load_chain
from sweeper.errors import ChainFileError

#: What a list of alternatives, orders or steps can be mistaken for.
LISTS = " [[], [glue]]", " [[glue, glue]]", " {from dialled: [1 dB]}", " [{plugin: A}]", " at most -1 dBTP", \
    " [{name: lift}]", " [{name: x, in: [last chorus, 0:00-0:01], to: 1}]", " {inserts: [{outside: x}]}", " 70 %"
EXAMPLE = (Path(__file__).parent / "every_idea.chain.yaml").read_text(encoding="utf-8")
TRAPS = ["\t", ": ", " #", "'", '"', "[", "]", "{", "}", "- ", "&a ", "*a", "!!x ", "%", "\n", "\r", "\x00", "“", "−",
         "~",
         "\ufeff", "1e999", "\\U", "? ", "| ", "> ", "<<: ", "---\n", ",", "\ud800", "\u2028", "\x85", "."]  # fmt: skip
#: Ten thousand files in all with --long.
MANY = 3_400 if settings.get_current_profile_name() == "further" else 150
FUZZ = settings(max_examples=MANY, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz")
    for name in ("lantern-bay.wav", "a-record-the-client-likes.wav"):
        (folder / name).touch()
    (folder / "states").mkdir()
    for name in ("valve", "limiter"):
        (folder / "states" / f"{name}.vstpreset").touch()
    return folder / "album.chain.yaml"


def refused_in_words_at_most(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    try:
        load_chain(path)
    except ChainFileError as error:
        assert error.problems
        lines = data.decode(errors="replace").count("\n") + 1
        for problem in error.problems:
            assert problem.what
            assert problem.remedy
            assert len(problem.what) < 200
            with contextlib.suppress(UnicodeDecodeError):
                if not {"\r", "\x85", "\u2028", "\u2029"} & set(data.decode()):
                    assert 0 <= problem.line <= lines + 1


@FUZZ
@given(data=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(lambda t: t.encode(errors="replace"))))
def test_anything_at_all(fuzzed, data):
    refused_in_words_at_most(fuzzed, data)


@FUZZ
@given(data=st.data())
def test_a_good_file_with_slips(fuzzed, data):
    text = EXAMPLE
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(start + 30, len(text))))
        text = text[:start] + data.draw(st.sampled_from(["", *TRAPS])) + text[end:]
    refused_in_words_at_most(fuzzed, text.encode(errors="surrogatepass"))


@FUZZ
@given(data=st.data())
def test_a_good_file_with_values_swapped(fuzzed, data):
    """Values of another kind where a key wants one: lists, mappings, nothing, numbers, loops."""
    lines = EXAMPLE.splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        number = data.draw(st.integers(0, len(lines) - 1))
        head, colon, _ = lines[number].partition(":")
        value = data.draw(st.sampled_from(["", " 1", " [1, [2]]", " {a: {b: c}}", " &x [*x]", " ~", " ''", " -inf",
                                           " 1e400 dB", " on", " [[]]", " {}", " 5 % travel", " [~, ~]",
                                           *LISTS]))  # fmt: skip
        lines[number] = head + colon + value if colon else lines[number]
    refused_in_words_at_most(fuzzed, "\n".join(lines).encode())


@pytest.mark.parametrize("data", [b"[" * 5000, b"{a: " * 5000, b"- " * 5000, b'a: "\\UFFFFFFFF"', b'a: "\\ud800"',
                                  b"mix: " + b"x" * 5000, b"mix: ~nobody-of-that-name/x.wav", b"mix: \"\\0\"",
                                  b"a: &a [*a]", b"&a a: *a", b"? [a]\n: b", b"\xff\xfe\x00\xd8", b"<<: *x",
                                  b"mixes: &m [a.wav, *m]", b"steps: 1"])  # fmt: skip
def test_known_ways_to_trip_a_reader(fuzzed, data):
    refused_in_words_at_most(fuzzed, data)
