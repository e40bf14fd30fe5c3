"""What an order is worth: crest and PLR are peak minus level, so once both are set nothing is left to rank."""

from __future__ import annotations

import pytest
from invented_rows import limits

from sweeper.chain import load_chain
from sweeper.chain.model import Mark, Preference
from sweeper.quantities import QUANTITIES
from sweeper.verdict import Candidate, fixed_preferences, hardly_differ, nearly_fixed
from sweeper.verdict.order import LEAST_DIFFERENCE

LOUDNESS, TRUE_PEAK = "loudness_lufs", "true_peak_dbtp"


def prefer(*keys: str) -> list[Preference]:
    return [Preference(key, True, Mark(1, 1)) for key in keys]


def candidates(*values: float | None, key: str = "crest_db", fits: bool = True) -> list[Candidate]:
    return [Candidate(f"{n:03d}", True, fits, {key: value}) for n, value in enumerate(values, 1)]


@pytest.mark.parametrize(
    ("reached", "held", "peak"),
    [([LOUDNESS, TRUE_PEAK], [], "true peak"), ([LOUDNESS], ["true peak <= -1 dBTP"], "true peak"),
     ([LOUDNESS], ["sample peak <= -0.3 dBFS"], "sample peak"), ([LOUDNESS, "sample_peak_dbfs"], [], "sample peak")],
)  # fmt: skip
@pytest.mark.parametrize(("key", "name"), [("crest_db", "crest"), ("plr_db", "plr")])
def test_crest_and_plr_are_nearly_fixed_by_loudness_and_a_peak(reached, held, peak, key, name):
    found = fixed_preferences(reached, limits(*held), prefer("mono_loss_lu", key))
    assert found == (f"{name} is nearly fixed once loudness and {peak} are: an order by it says little",)


@pytest.mark.parametrize(
    ("reached", "held", "keys"),
    [([LOUDNESS], [], ["crest_db"]), ([TRUE_PEAK], [], ["crest_db"]), ([], ["true peak <= -1 dBTP"], ["crest_db"]),
     ([LOUDNESS], ["true peak >= -3 dBTP"], ["crest_db"]), ([LOUDNESS, TRUE_PEAK], [], ["mono_loss_lu"]),
     ([LOUDNESS, TRUE_PEAK], [], []), ([LOUDNESS], ["crest >= 8 dB"], ["crest_db"])],
)  # fmt: skip
def test_nothing_is_said_where_something_is_left_to_rank(reached, held, keys):
    assert fixed_preferences(reached, limits(*held), prefer(*keys)) == ()


def test_what_is_reached_ranks_nothing():
    found = fixed_preferences([LOUDNESS], (), prefer(LOUDNESS))
    assert found == ("loudness is what is reached: an order by it says little",)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ((9.0, 9.12, 9.05), "the variants differ by only 0.12 dB of crest: the order says little"),
        ((9.0, 9.29), "the variants differ by only 0.29 dB of crest: the order says little"),
        ((9.0, 9.3125), None),
        ((9.0, 9.0), "the variants do not differ in crest: the order says nothing"),
        ((9.0,), None), ((9.0, None), None),
        ((None, None), "no variant has a value of crest: the order says nothing"),
        ((9.0, None, 9.1), "only 0.10 dB"), ((), None),
    ],
)  # fmt: skip
def test_variants_that_hardly_differ_are_said(values, words):
    found = hardly_differ(candidates(*values), prefer("crest_db"))
    assert found is None if words is None else words in (found or "")


def test_only_what_fits_and_the_first_preference_count():
    near, far = candidates(9.0, 9.1), candidates(3.0, fits=False)
    assert hardly_differ(near + far, prefer("crest_db", "plr_db")) is not None
    assert hardly_differ(near, []) is None
    assert hardly_differ(candidates(9.0, 15.0), prefer("crest_db", "plr_db")) is None


@pytest.mark.parametrize(("spread", "said"), [(0.012, "only 0.01 of correlation"), (0.03, None)])
def test_pure_numbers_have_a_finer_measure(spread, said):
    found = hardly_differ(candidates(0.5, 0.5 + spread, key="correlation"), prefer("correlation"))
    assert found is None if said is None else said in (found or "")


def test_every_quantity_that_can_be_preferred_has_a_least_difference():
    assert {q.difference_unit for q in QUANTITIES} <= set(LEAST_DIFFERENCE)


def test_what_a_mixs_own_limits_fix_names_that_mix(tmp_path):
    for name in ("a.wav", "b.wav"):
        (tmp_path / name).write_bytes(b"")
    text = "mixes: [a.wav, {file: b.wav%s}]\nalbum: each to target\noutput: [{name: l, plugin: L, drive: raise In}]\n" \
           "reach: [{loudness: -9 LUFS, by: l.drive}]\nprefer: [crest highest]\n"  # fmt: skip
    (tmp_path / "c.yaml").write_text(text % "")
    assert nearly_fixed(load_chain(tmp_path / "c.yaml")) == ()
    (tmp_path / "c.yaml").write_text(text % ", limits: [true peak <= -1 dBTP]")
    said = "crest is nearly fixed once loudness and true peak are: an order by it says little"
    assert nearly_fixed(load_chain(tmp_path / "c.yaml")) == (f"b.wav: {said}",)
    (tmp_path / "c.yaml").write_text(text % "" + "limits: [true peak <= -1 dBTP]\n")
    assert nearly_fixed(load_chain(tmp_path / "c.yaml")) == (said,)
