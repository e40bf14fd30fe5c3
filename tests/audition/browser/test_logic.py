"""Chance, orders, loudness and picks, as the page works them out: held against tables, standards, other libraries."""

from __future__ import annotations

import base64
import io
import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from invented_audition import music, power_100ms
from pyloudnorm import Meter
from scipy.stats import binom, chisquare

import sweeper.audition

PAGE = Path(sweeper.audition.__file__).with_name("page")
FILES = ("chance", "guessing", "ranking", "loudness", "samples", "notes_book", "forced_choice")
NAMES = "Chance, Guessing, Ranking, Loudness, Samples, NotesBook, ForcedChoice"


@pytest.fixture(scope="module")
def logic(browser):
    """Evaluates an expression where the page's own scripts are, and nothing else of it."""
    page = browser.new_page()
    scripts = "\n".join((PAGE / f"{name}.js").read_text("utf-8") for name in FILES)
    page.add_script_tag(content=f"{scripts}\nObject.assign(globalThis, {{{NAMES}}});")
    yield page.evaluate
    page.close()


#: Fewest right answers for which guessing among two stays below 5 % and 1 %: ISO 10399:2017 (duo-trio test), Table A.1,
#: from memory; the exact binomial that it is worked out from is checked below.
ISO_10399 = [
    (10, 9, 10),
    (12, 10, 11),
    (16, 12, 14),
    (20, 15, 16),
    (24, 17, 19),
    (25, 18, 19),
    (30, 20, 22),
    (40, 26, 28),
    (50, 32, 34),
    (60, 37, 40),
    (100, 59, 63),
]


@pytest.mark.parametrize("of, at_5_percent, at_1_percent", ISO_10399, ids=lambda value: str(value))
def test_how_many_have_to_be_right_is_as_in_the_published_table(logic, of, at_5_percent, at_1_percent):
    found = logic("(of) => [Guessing.needed(of, 0.05), Guessing.needed(of, 0.01)]", of)
    assert found == [at_5_percent, at_1_percent]


def test_the_probability_of_guessing_is_the_exact_binomial(logic):
    cases = [(right, of) for of in (1, 2, 5, 8, 12, 25, 100, 400) for right in range(0, of + 1, max(1, of // 10))]
    found = logic("(cases) => cases.map(([right, of]) => Guessing.probability(right, of))", cases)
    assert found == pytest.approx([binom.sf(right - 1, of, 0.5) for right, of in cases], rel=1e-9, abs=1e-38)
    assert logic("Guessing.probability(12, 12)") == 1 / 4096
    assert logic("Guessing.words(1 / 4096)") == "1 in 4096"


def test_chance_is_fair(logic):
    """Pearson's chi-squared on counts that a fair draw exceeds once in ten million times."""
    shuffles = logic("() => Array.from({ length: 2400 }, () => Chance.shuffled([0, 1, 2, 3]).join(''))")
    counts = [shuffles.count("".join(order)) for order in itertools.permutations("0123")]
    assert sum(counts) == 2400 and chisquare(counts).pvalue > 1e-7
    coins = logic(
        """() => {
          const choice = new ForcedChoice("a", "b", 4000);
          let count = 0;
          for (; !choice.over; choice.answer("a")) count += choice.sound("x") === "a";
          return count;
        }"""
    )
    assert abs(coins - 2000) < 5.5 * math.sqrt(1000)


#: Most comparisons of merge insertion for 1 to 8: Ford and Johnson 1959; Knuth, TAOCP 3, 5.3.1, table 1.
MOST = {2: 1, 3: 3, 4: 5, 5: 7, 6: 10, 7: 13, 8: 16}


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_every_order_is_found_with_no_more_answers_than_the_table_says(logic, count):
    used, wrong = logic("""(count) => {
      const without = (list, one) => list.filter((other) => other !== one);
      const orders = (list) => list.length < 2 ? [list]
        : list.flatMap((one) => orders(without(list, one)).map((rest) => [one, ...rest]));
      const ids = [..."abcdef"].slice(0, count);
      let [most, wrong] = [0, 0];
      for (const order of orders(ids)) {
        const answers = [];
        let next = Ranking.next(ids, answers);
        while (next.ask) {
          const [a, b] = next.ask;
          answers.push([a, b, order.indexOf(a) < order.indexOf(b) ? a : b]);
          next = Ranking.next(ids, answers);
        }
        most = Math.max(most, answers.length);
        wrong += next.order.join() !== order.join();
      }
      return [most, wrong];
    }""", count)  # fmt: skip
    assert (used, wrong) == (MOST[count], 0)
    assert logic("(count) => Ranking.most(count)", count) == MOST[count]


def test_seven_and_eight_are_ranked_with_few_answers(logic):
    for count in (7, 8):
        used = logic("""(count) => { let most = 0;
          for (let n = 0; n < 300; n++) {
            const ids = Chance.shuffled([..."abcdefgh"].slice(0, count));
            const answers = [];
            let next = Ranking.next(ids, answers);
            while (next.ask) {
              const [a, b] = next.ask;
              answers.push([a, b, a < b ? a : b]);
              next = Ranking.next(ids, answers);
            }
            if (next.order.join("") !== "abcdefgh".slice(0, count)) return -1;
            most = Math.max(most, answers.length);
          }
          return most; }""", count)  # fmt: skip
        assert 0 < used <= MOST[count]


def test_circular_triads_are_as_many_as_kendall_and_babington_smith_count(logic):
    """d = n(n-1)(2n-1)/12 - sum of squares of wins / 2: M. G. Kendall and B. Babington Smith, Biometrika 31 (1940)."""
    rng = np.random.default_rng(4)
    ids = "abcdefg"
    for _ in range(20):
        answers = [[a, b, (a, b)[rng.integers(2)]] for a, b in itertools.combinations(ids, 2)]
        wins = [sum(winner == id for *_, winner in answers) for id in ids]
        expected = 7 * 6 * 13 / 12 - sum(w * w for w in wins) / 2
        triads = logic("(answers) => Ranking.triads(answers)", answers)
        assert len(triads) == expected
        won = {frozenset((a, b)): winner for a, b, winner in answers}
        assert all(won[frozenset((t[k], t[(k + 1) % 3]))] == t[k] for t in triads for k in range(3))


def test_a_circle_is_found_by_the_check_and_not_before(logic):
    """Rock, scissors, paper: whatever the order, the one pair that it only follows from shows the circle."""
    asked, before, after = logic("""() => {
      const better = { ab: "a", bc: "b", ac: "c" };
      const say = ([a, b]) => [a, b, better[[a, b].sort().join("")]];
      const answers = [];
      let next = Ranking.next(["a", "b", "c"], answers);
      while (next.ask) { answers.push(say(next.ask)); next = Ranking.next(["a", "b", "c"], answers); }
      const before = Ranking.triads(answers).length;
      const checks = Ranking.checks(next.order, answers);
      for (const pair of checks) answers.push(say(pair));
      return [checks.length, before, Ranking.triads(answers).length];
    }""")  # fmt: skip
    assert after == 1 and before + asked == 1


#: The worklet where no audio runs: a sound whose samples tell their place, 1.0 a second; a loop from 0.1 to 0.5 s.
WORKLET = """([source, within, loop]) => {
  let made;
  const run = new Function("sampleRate", "currentFrame", "AudioWorkletProcessor", "registerProcessor", source);
  run(44100, 0, class { port = { postMessage() {} }; }, (_, made_of) => (made = made_of));
  const playback = new made({ processorOptions: { frames: 44100, chunkFrames: 44100, sounds: 1 } });
  const samples = Float32Array.from({ length: 44100 }, (_, frame) => frame / 44100);
  playback.chunk({ sound: 0, number: 0, channels: [samples] });
  playback.volume({ gain_db: 0 });
  playback.match({ gains_db: [0] });
  playback.repeat({ loop: { from: 4410, to: 22050 } });
  playback.seek({ frame: 20480, turn: 1 });
  playback.play();
  const heard = [];
  const block = () => {
    const out = [new Float32Array(128)];
    playback.process(null, [out]);
    heard.push(...out[0]);
  };
  while (playback.position < within) block();
  playback.repeat({ loop });
  for (let n = 0; n < 20; n++) block();
  return heard;
}"""


@pytest.mark.parametrize("loop", [None, {"from": 0, "to": 40000}], ids=["off", "another"])
def test_a_loop_that_is_changed_in_its_seam_makes_no_click(logic, loop):
    source = (PAGE / "worklet.js").read_text("utf-8")
    heard = np.array(logic(WORKLET, [source, 22050 - 130, loop]))
    assert np.abs(np.diff(heard)).max() < 2 * 0.5 / 220, "no step but those of fades over 5 ms"
    assert heard[-1] > 0.5, "it goes on past the old end"


def test_loudness_of_a_stretch_is_pyloudnorms(logic):
    rate_hz = 48000
    samples = music(3, rate_hz, 8.0) * np.concatenate([np.full(5 * rate_hz, 1.0), np.full(3 * rate_hz, 0.05)]).astype(
        np.float32
    )
    power = power_100ms(samples, rate_hz).tolist()
    for first, last in ((0, 80), (10, 45), (40, 70), (3, 9)):
        found = logic("([power, from, to]) => Loudness.integrated(power, from, to)", [power, first, last])
        # the outside meter hears the whole, so that its filters have run in as ours have
        whole = Meter(rate_hz, filter_class="K-weighting")
        weighted_from = whole.integrated_loudness(samples[:, first * 4800 : last * 4800].T)
        assert found == pytest.approx(weighted_from, abs=0.05), "ITU-R BS.1770-5 Annex 1, with both gates"
    assert logic("([power]) => Loudness.integrated(power, 0, 3)", [power]) is None
    assert logic("() => Loudness.integrated(Array(20).fill(1e-9), 0, 20)") is None


def test_gains_over_a_loop_make_the_quietest_the_level_and_let_nothing_clip(logic):
    sounds = [
        {"id": "mix", "kind": "mix", "offset_frames": 0, "match_gain_db": 0, "true_peak_dbtp": -6,
         "power_100ms": [0.01] * 20},
        {"id": "001", "kind": "variant", "offset_frames": 0, "match_gain_db": -9, "true_peak_dbtp": -1,
         "power_100ms": [0.1] * 20},
        {"id": "r", "kind": "reference", "offset_frames": 44100, "match_gain_db": 0, "true_peak_dbtp": -2,
         "power_100ms": [1.0] * 10 + [0.001] * 20},
    ]  # fmt: skip
    gains = logic("([sounds]) => Loudness.matched(sounds, 0, 2, 44100).gains", [sounds])
    # 10 dB apart each; the reference would be raised by 10 dB to a peak of +8: all are lowered by that
    assert [gains[id] for id in ("mix", "001", "r")] == pytest.approx([-8, -18, 2], abs=1e-9)
    assert "silent" in logic("([sounds]) => Loudness.matched(sounds, 0, 0.3, 44100).why", [sounds])


@pytest.mark.parametrize(
    "subtype, channels", [("PCM_16", 2), ("PCM_24", 2), ("PCM_24", 1), ("PCM_32", 2), ("FLOAT", 2), ("DOUBLE", 1)]
)
@pytest.mark.parametrize("form", ["WAV", "WAVEX", "RF64"])
def test_samples_of_any_wav_file_are_read_exactly(logic, subtype, channels, form):
    written = music(6, 44100, 0.02)[:channels]
    file = io.BytesIO()
    sf.write(file, written.T, 44100, format=form, subtype=subtype)
    file.seek(0)
    expected = sf.read(file, dtype="float32", always_2d=True)[0].T
    found = logic("""(text) => {
      const bytes = Samples.bytes(text);
      const head = Samples.head(bytes.buffer);
      const stride = Samples.width[head.format] * head.channels;
      const count = 882;
      const part = bytes.slice(head.data_offset, head.data_offset + count * stride);
      return [head, Samples.apart(part, head.format, head.channels, count).map((c) => [...c])];
    }""", base64.b64encode(file.getvalue()).decode())  # fmt: skip
    assert (found[0]["channels"], found[0]["rate_hz"]) == (channels, 44100)
    assert np.array_equal(np.array(found[1], np.float32), expected)


@pytest.mark.parametrize(
    "bytes_, words",
    [
        (b"OggS" + bytes(40), "no WAV file"),
        (b"RIFF", "no WAV file"),
        (b"RIFF\0\0\0\0WAVE" + b"LIST\x04\0\0\0abcd", "not found"),
    ],
)
def test_what_is_no_wav_file_is_refused_in_words(logic, bytes_, words):
    said = logic(
        "(text) => { try { Samples.head(Samples.bytes(text).buffer); } catch (e) { return e.message; } }",
        base64.b64encode(bytes_).decode(),
    )
    assert words in said


def _document(**more: Any) -> dict[str, Any]:
    return {"schema": 1, "run": "a#1", "saved": "", "picks": {}, "trials": [], "ranking": {}, "unfinished": {},
            "revision": 0, **more}


def _note(text: str, at_s: float | None = None) -> dict[str, Any]:
    return {"at_s": at_s, "text": text}


def _pick(verdict: str, *notes: dict[str, Any]) -> dict[str, Any]:
    return {"verdict": verdict, "notes": list(notes)}


def test_what_two_wrote_becomes_one_and_what_either_took_away_is_gone(logic):
    old = _note("old", 1.0)
    trial = {"a": "001", "b": "002", "right": 9, "of": 12, "p": 0.07, "when": "x"}
    ranking = {"1": {"order": ["003"], "comparisons": [], "inconsistent": []}}
    base = _document(
        revision=3, unfinished={"2": {"ranking": {}}},
        picks={"001": _pick("maybe", old, _note("gone")), "002": _pick("drop")},
    )  # fmt: skip
    ours = _document(
        revision=3, picks={"001": _pick("keep", old, _note("ours", 0.5)), "002": _pick("drop")}, trials=[trial]
    )
    theirs = _document(
        revision=4, ranking=ranking, unfinished={"1": {"choice": {"a": "001"}}, "2": {"ranking": {}}},
        picks={"001": _pick("maybe", old, _note("gone"), _note("theirs", 9.0)), "003": _pick("keep")},
    )  # fmt: skip
    merged = logic("([base, ours, theirs]) => NotesBook.merged(base, ours, theirs)", [base, ours, theirs])
    assert merged["picks"] == {
        "001": _pick("keep", _note("ours", 0.5), old, _note("theirs", 9.0)), "003": _pick("keep"),
    }  # fmt: skip
    assert merged["unfinished"] == {"1": {"choice": {"a": "001"}}}, "ours ended the ranking of mix 2"
    assert merged["revision"] == 4 and merged["trials"] == [trial] and merged["ranking"] == ranking


def test_picks_of_another_run_are_refused_and_a_renamed_folder_is_the_same_run(logic):
    check = (
        "([document, run]) => { try { return NotesBook.checked(document, run).run; } catch (e) { return e.message; } }"
    )
    assert logic(check, [_document(run="other#2"), "a#1"]) == "these picks are of another run: other#2"
    assert logic(check, [_document(run="renamed#1"), "a#1"]) == "renamed#1"
    assert "no file of picks" in logic(check, [{"schema": 2}, "a#1"])
