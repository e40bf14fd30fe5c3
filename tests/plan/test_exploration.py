"""Batches asked for, told of, recorded and gone on with; with what came of a variant invented."""

from __future__ import annotations

import json

import pytest
from exploring import EVERYTHING, chain_of, examined

from sweeper.plan.exploration import STRAYED, Exploration, Recorded, covering, foreseen
from sweeper.plan.explorer import Explorer
from sweeper.plan.told import Told

RANGE = """mix: a.wav
output: {name: limiter, plugin: Brick, drive: raise Input}
vary: {limiter.Release: {from: 5 ms, to: 500 ms, spacing: log}, limiter.Knee: {from: 0 dB, to: 12 dB}}
reach: [{loudness: -10 LUFS, by: limiter.drive}]
prefer: [crest highest]
explore: {variants: 20, seed: 5}
"""
FEW = """mix: a.wav
output: {name: limiter, plugin: Brick}
vary: {limiter.Knee: [3 dB, 1 dB, 2 dB], limiter.Mode: [Soft, Hard]}
prefer: [crest highest]
explore: {variants: 20}
"""


def value_of(variant) -> float:
    """Best at 50 ms and 6 dB, and much the same for what has neither."""
    release, knee = (float(variant.varied.get(f"limiter.{name}", default).split()[0])
                     for name, default in (("Release", "50 ms"), ("Knee", "6 dB")))  # fmt: skip
    return abs(release - 50) / 50 + abs(knee - 6) / 6


def all_told(search: Exploration, landed: bool = True) -> dict[str, Told]:
    return {variant.id: Told((value_of(variant),), landed=landed) for variant in search.found}


def batches(search: Exploration, most: int = 99, tell=all_told):
    """The batches that are still to come, all told of but the last."""
    found = []
    while len(found) < most and (batch := search.next(tell(search))) is not None:
        found.append(batch)
    return found


@pytest.fixture
def exploration(tmp_path):
    def made(text: str = RANGE, recorded: Recorded | None = None) -> Exploration:
        chain = chain_of(tmp_path, text)
        return Exploration(chain, examined(chain), recorded)

    return made


def recorded(search: Exploration) -> Recorded:
    """What a ledger tells of it: through JSON and back."""
    return Recorded.from_data(json.loads(json.dumps(search.as_data())))


def test_so_many_variants_are_asked_for_eight_at_a_time(exploration):
    search = exploration()
    assert (search.most, search.to_come) == (20, 20)
    found = batches(search)
    assert [len(batch.variants) for batch in found] == [8, 8, 4]
    assert [variant.id for variant in search.found] == [f"{number:03d}" for number in range(1, 21)]
    assert search.words == ("explored by TPE: one preference, which it learns from few variants",
                            "ended after 20 variants: as many as were asked for")  # fmt: skip
    assert search.next(all_told(search)) is None
    assert (search.most, search.to_come) == (20, 0)


@pytest.mark.parametrize("stopped_after", [1, 2, 3])
def test_gone_on_with_it_asks_for_what_it_would_have_asked_for(exploration, stopped_after):
    """Stopped with the last batch asked for and not told of."""
    whole = exploration()
    expected = [batch.variants for batch in batches(whole)]
    stopped = exploration()
    batches(stopped, stopped_after)
    again = exploration(recorded=recorded(stopped))
    assert again.found == stopped.found
    assert [batch.variants for batch in batches(again)] == expected
    assert again.as_data() == whole.as_data()
    assert again.words == whole.words


def test_generations_are_gone_on_with_too(exploration):
    text = RANGE.replace("prefer: [crest highest]", "prefer: [crest highest, mono loss lowest]").replace("20", "100")

    def both(search):
        knees = {v.id: float(v.varied["limiter.Knee"].split()[0]) for v in search.found}
        return {v.id: Told((value_of(v), knees[v.id]), landed=True) for v in search.found}

    whole, stopped = exploration(text), exploration(text)
    batches(whole, tell=both)
    batches(stopped, 9, both)
    again = exploration(text, recorded(stopped))
    batches(again, tell=both)
    assert again.as_data() == whole.as_data()
    assert again.words == whole.words
    assert whole.words[0].startswith("explored by NSGA-II: ")


def test_more_are_added_to_what_there_is(exploration):
    first = exploration()
    batches(first)
    more = exploration(recorded=recorded(first).with_more(5))
    assert more.to_come == 5
    assert [len(batch.variants) for batch in batches(more)] == [8, 8, 4, 5]
    assert more.found[:20] == first.found
    assert more.as_data()["more"] == [5]
    assert more.words[-1] == "ended after 25 variants: as many as were asked for"


def test_another_version_that_would_ask_otherwise_goes_on_from_what_is_recorded(exploration, monkeypatch):
    first = exploration()
    batches(first, 2)
    ask = Explorer.ask

    def otherwise(self):
        return {name: number * 1.001 for name, number in ask(self).items()}

    monkeypatch.setattr(Explorer, "ask", otherwise)
    again = exploration(recorded=recorded(first))
    found = batches(again)
    assert [batch.variants for batch in found[:2]] == [first.found[:8], first.found[8:]]
    assert len(again.found) == 20
    assert again.words[-1] == STRAYED


def test_what_is_recorded_of_another_chain_is_refused(exploration):
    first = exploration()
    batches(first, 1)
    with pytest.raises(ValueError, match="is not of this space"):
        exploration(FEW, recorded(first))


def test_all_of_a_few_combinations_in_the_files_order(exploration):
    search = exploration(FEW)
    (batch,) = batches(search)
    assert [tuple(v.varied.values()) for v in batch.variants] == [
        (knee, mode) for knee in ("1 dB", "2 dB", "3 dB") for mode in ("Soft", "Hard")]  # fmt: skip
    assert search.words == ("explored by all combinations: there are no more than 6",
                            "ended after 6 variants: every combination is rendered")  # fmt: skip


def test_what_sounds_the_same_is_not_rendered_twice(exploration):
    """Six of them may be asked for, of which only five are heard apart: 12 dB and 12.00001 dB are one."""
    text = FEW.replace("variants: 20", "variants: 5, seed: 2")
    search = exploration(text)
    found = batches(search)
    assert sum(len(batch.variants) for batch in found) == 5
    heard = [tuple(v.varied.values()) for v in search.found]
    assert len(set(heard)) == 5
    asked = search.as_data()["mixes"][0]["asked"]
    assert {entry["variant"] for entry in asked} == {v.id for v in search.found}


def test_where_everything_comes_up_again_it_ends(exploration, monkeypatch):
    search = exploration()
    batches(search, 1)
    before = search.as_data()["mixes"][0]["asked"][0]["point"]
    monkeypatch.setattr(Explorer, "ask", lambda self: before)
    monkeypatch.setattr(Explorer, "tell", lambda self, told: None)
    monkeypatch.setattr(Explorer, "learn", lambda self, points, told: None)
    assert [len(batch.variants) for batch in batches(search)] == [0]
    assert search.words[-1] == "ended after 8 variants: the last 24 choices were all rendered before"


def test_it_ends_at_the_end_of_a_batch_after_so_many_that_were_no_better(exploration):
    text = RANGE.replace("variants: 20", "variants: 60, stop after: 10")

    def no_better(search):
        return {variant.id: Told((float(variant.id != "001"),)) for variant in search.found}

    search = exploration(text)
    assert [len(batch.variants) for batch in batches(search, tell=no_better)] == [8, 8]
    assert search.words[-1] == "ended after 16 variants: the last 15 were no better"
    more = exploration(text, recorded(search).with_more(20))
    assert len(batches(more, tell=no_better)) == 4, "what is added is searched before it ends again"


def test_mixes_are_explored_one_after_the_other_each_by_itself(exploration):
    text = RANGE.replace("mix: a.wav", "mixes: [a.wav, b.wav]\nalbum: each to target").replace("20", "10")
    search = exploration(text)
    found = batches(search)
    assert [[v.mix for v in batch.variants] for batch in found] == [[0] * 8, [0] * 2, [1] * 8, [1] * 2]
    assert [v.id for v in search.found] == [f"{number:03d}" for number in range(1, 21)]
    assert [v.varied for v in search.found[:8]] != [v.varied for v in search.found[10:18]]
    more = exploration(text, recorded(search).with_more(2))
    assert [(v.id, v.mix) for batch in batches(more)[-1:] for v in batch.variants] == [("023", 1), ("024", 1)]


def test_the_nearest_of_earlier_batches_teaches(exploration):
    search = exploration()
    first, second, _ = batches(search)
    root, *others = (variant.id for variant in first.variants)
    assert first.taught_by == {root: None, **dict.fromkeys(others, root)}
    place = {entry["variant"]: entry["point"] for entry in search.as_data()["mixes"][0]["asked"]}
    for id, teacher in second.taught_by.items():
        apart = {other.id: search._mixes[0]._apart(id, other.id) for other in first.variants}
        assert teacher == min(apart, key=lambda other: apart[other]), place[id]


def test_who_missed_teaches_nobody(exploration):
    search = exploration()
    first, second, _ = batches(search, tell=lambda each: all_told(each, landed=False))
    assert set(second.taught_by.values()) <= {None, second.variants[0].id}
    assert first.variants


def test_a_few_variants_have_every_stage_and_alternative_in_every_mix(tmp_path):
    chain = chain_of(tmp_path, EVERYTHING.replace("mix: a.wav", "mixes: [a.wav, b.wav]"))
    found = covering(chain, examined(chain))
    met = {(v.mix, stage.name, stage.label) for v in found for stage in v.stages if not stage.bypass}
    names = {("colour", "Valve"), ("colour", "Iron"), ("glue", ""), ("air", ""), ("lift", ""), ("limiter", "")}
    assert met == {(mix, *name) for mix in (0, 1) for name in names}
    assert len(found) <= 16


def test_as_many_as_may_come_are_foreseen(tmp_path):
    chain = chain_of(tmp_path, RANGE)
    found = foreseen(chain, examined(chain), 20)
    assert len({tuple(v.varied.items()) for v in found}) == len({v.id for v in found}) == 20
    assert len({v.place for v in found}) == 20
    few = chain_of(tmp_path, FEW)
    assert len(foreseen(few, examined(few), 20)) == 6
    assert foreseen(chain, examined(chain), 0) == ()


OF_MIXES = """mixes: [a.wav, {file: b.wav, settings: {comp.bypass: on}}]
inserts: {name: comp, plugin: Comp}
output: {name: limiter, plugin: Brick}
vary: {comp.Ratio: {from: 2, to: 8}, limiter.Mode: [Soft, Hard]}
prefer: [crest highest]
explore: {variants: 10}
"""


def test_a_mix_chooses_from_what_is_heard_of_it_and_the_numbers_run_on(exploration, tmp_path):
    search = exploration(OF_MIXES)
    batches(search)
    per_mix = [[variant.id for variant in search.found if variant.mix == mix] for mix in (0, 1)]
    assert per_mix == [[f"{number:03d}" for number in range(1, 11)], ["011", "012"]]
    assert [variant.varied for variant in search.found if variant.mix == 1] == [
        {"limiter.Mode": "Soft"}, {"limiter.Mode": "Hard"}]  # fmt: skip
    assert search.words == (
        "a.wav: explored by TPE: one preference, which it learns from few variants",
        "a.wav: ended after 10 variants: as many as were asked for",
        "b.wav: explored by all combinations: there are no more than 2",
        "b.wav: ended after 2 variants: every combination is rendered",
    )
    again = exploration(OF_MIXES, recorded(search))
    batches(again)
    assert [variant.id for variant in again.found] == [variant.id for variant in search.found]
    assert not any("otherwise" in words for words in again.words)
    chain = chain_of(tmp_path, OF_MIXES)
    for made in (covering(chain, examined(chain)), foreseen(chain, examined(chain), 10)):
        assert [int(variant.id) for variant in made] == list(range(1, len(made) + 1))
        assert all(variant.stages[0].bypass is (variant.mix == 1) for variant in made)
