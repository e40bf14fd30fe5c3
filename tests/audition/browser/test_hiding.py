"""Names are hidden from eye, screen reader and the page's own tree; forced choices and ranking, answered by ear."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from listening import Ear, place_of
from playwright.sync_api import Page
from scipy.stats import binom
from served_page import Site


@pytest.fixture
def own_ear(own_site, opened):
    heard = Ear(opened(own_site.address))
    heard.full_gain()
    return heard


#: What no element, attribute or text may hold while names are hidden. "mix" alone is a word of the page.
TELLING = ("004", "007", "009", "012", "015", "021", "untouched", "a-record", "best by crest", "limiter drive")


def whole_tree(page: Page) -> str:
    """Everything that the document holds, but for the page's own scripts and styles; and what form fields hold."""
    return str(page.evaluate("""() => {
      const copy = document.documentElement.cloneNode(true);
      copy.querySelectorAll("script, style").forEach((element) => element.remove());
      const fields = [...document.querySelectorAll("input, select, output")].map((field) => field.value);
      return copy.outerHTML + fields.join(" ") + document.title;
    }"""))  # fmt: skip


def names_in(page: Page) -> list[str]:
    """Which names and words that tell one the document holds; digits within a number are none."""
    tree = whole_tree(page)
    return [word for word in TELLING if re.search(rf"(?<![\d.]){re.escape(word)}(?!\d)", tree)]


def who_plays(ear: Ear, site: Site, samples: dict[str, np.ndarray]) -> str:
    """The sound that is heard, by comparison with the files at the levels that they should have."""
    for _ in range(8):
        heard = ear.listen(0.1)[:, :4096]
        place = place_of(heard, samples["mix"][:, :100_000])  # where it is, any of them tells
        apart = {}
        for entry in site.manifest["mixes"][0]["sounds"]:
            sound = samples[entry["id"]][:, place : place + heard.shape[1]] * 10 ** (entry["match_gain_db"] / 20)
            if entry["kind"] in ("mix", "variant") and sound.shape == heard.shape:
                apart[entry["id"]] = float(np.abs(sound - heard).max())
        best = min(apart, key=lambda id: apart[id])
        if apart[best] < 1e-4:  # not across the loop's seam, nor in a crossfade
            return best
    raise AssertionError(f"nothing of the run is heard: {apart}")


def test_while_names_are_hidden_the_page_holds_none(ear: Ear, site, samples):
    page = ear.page
    assert {"004", "untouched"} <= set(names_in(page))
    ear.press("Shift+Digit1", "Space", "b")
    said = set()
    for _ in range(5):  # with every panel
        for key in "123456":
            ear.press(key)
            assert names_in(page) == []
            said.add(ear.text("#said"))
        ear.press("p")
    assert said >= {"A", "B", "C", "D", "E", "F"} or said >= {"B", "C", "D", "E", "F"}
    assert page.locator(".tile").count() == 7, "variants and the mix; what is another record cannot be hidden"
    ear.press("v")
    assert "not while names are hidden" in ear.text("#said")
    assert page.locator(".level").is_disabled() and "dB" not in ear.text("#tiles")


@pytest.mark.long
def test_letters_are_those_sounds_and_revealing_says_so(own_ear: Ear, own_site, samples):
    ear = own_ear
    ear.press("Shift+Digit1", "Space", "b")
    heard = []
    for key in "1234567":
        ear.press(key)
        heard.append(who_plays(ear, own_site, samples))
    assert sorted(heard) == sorted(["mix", "004", "007", "009", "012", "015", "021"])
    ear.press("3", "k", "n")
    ear.page.keyboard.type("the voice is nearer")
    ear.press("Enter")
    assert "keep" in ear.page.locator(".tile[aria-pressed=true]").inner_text()
    ear.press("b")
    names = {"mix": "untouched mix"}
    assert f"revealed: {names.get(heard[2], heard[2])} plays" == ear.text("#said")
    ear.press("s")
    ear.page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")
    assert own_site.notebook.read()["picks"][heard[2]] == {
        "verdict": "keep", "notes": [{"at_s": pytest.approx(1, abs=3), "text": "the voice is nearer"}],
    }  # fmt: skip


def test_verdicts_from_before_are_hidden_with_the_names(own_ear: Ear):
    ear = own_ear
    ear.press("2", "k", "3", "d", "b")
    assert ear.page.locator(".tile .mark:not(:empty)").count() == 0
    ear.press("b")
    assert ear.page.locator(".tile .mark:not(:empty)").all_inner_texts() == ["✓ keep", "× drop"]


def test_every_hiding_draws_another_order(opened, site):
    """Draws are planted here: what the browser's source of chance gives is the order, and nothing else is."""
    planted = """crypto.getRandomValues = (list) => {
      list[0] = (globalThis.draws ??= []).length ? draws.shift() : 0;
      return list;
    };"""
    page = opened(site.address, script=planted)
    ear = Ear(page)
    ear.full_gain()
    page.keyboard.press("b")
    page.keyboard.press("b")
    # Durstenfeld with nothing but zeros turns a list by one: mix 004 007 ... 021 becomes 004 007 ... 021 mix
    page.evaluate("() => { draws = [6, 5, 4, 3, 2, 1]; }")
    page.keyboard.press("b")
    page.keyboard.press("2")
    page.keyboard.press("b")
    assert ear.text("#said") == "revealed: 004 plays", "largest draws leave the order as it is"


def answered_by_ear(ear: Ear, site: Site, samples, wrong: set[int], trials: int) -> None:
    """Listens to A, B and X of every trial and answers, on purpose wrongly in some."""
    page = ear.page
    for trial in range(trials):
        page.wait_for_function(
            "(text) => document.querySelector('#session h2').textContent.includes(text)", arg=f"Trial {trial + 1} of"
        )
        assert names_in(page) == []
        heard = {}
        for letter in "abx":
            ear.press(letter)
            heard[letter] = who_plays(ear, site, samples)
        assert heard["a"] != heard["b"] and heard["x"] in (heard["a"], heard["b"])
        is_a = heard["x"] == heard["a"]
        ear.press("Shift+A" if is_a != (trial in wrong) else "Shift+B")


def test_a_forced_choice_answered_by_ear_is_counted_and_kept(own_ear: Ear, own_site, samples):
    ear = own_ear
    ear.press("Shift+Digit1", "Space", "2", "5", "c")
    ear.page.locator("#session select").nth(2).select_option("8")
    ear.page.locator("#session .go").focus()
    ear.press("Enter")
    answered_by_ear(ear, own_site, samples, wrong={2}, trials=8)
    expected = float(binom.sf(6, 8, 0.5))
    assert "7 of 8 right: 012 or 004" in ear.text("#session")
    assert f"{expected:.3f}" in ear.text("#session") and "7 of 8 or more would be below 0.05" in ear.text("#session")
    assert "7 of 8 right" in ear.text("#said")
    ear.page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")
    (trial,) = own_site.notebook.read()["trials"]
    assert (trial["a"], trial["b"], trial["right"], trial["of"]) == ("012", "004", 7, 8)
    assert trial["p"] == pytest.approx(expected, rel=1e-9)


def test_a_session_that_is_ended_early_says_so_and_one_without_an_answer_leaves_nothing(own_ear: Ear, own_site):
    ear = own_ear
    ear.press("c", "Enter", "Escape")
    assert not ear.page.locator("#session").is_visible()
    ear.press("c", "Enter", "Shift+A", "Shift+B", "Escape")
    assert "Ended after 2 of 12" in ear.text("#session") and "cannot get below 0.05" in ear.text("#session")
    ear.press("s")
    ear.page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")
    assert [trial["of"] for trial in own_site.notebook.read()["trials"]] == [2]


def saved(ear: Ear) -> None:
    ear.page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")


def test_a_forced_choice_goes_on_after_the_page_was_closed_and_counts_all_its_trials(own_ear: Ear, own_site, opened):
    ear = own_ear
    ear.press("2", "5", "c")
    ear.page.locator("#session select").nth(2).select_option("8")
    ear.page.locator("#session .go").focus()
    ear.press("Enter", "Shift+A", "Shift+B", "Shift+A")
    saved(ear)
    begun = own_site.notebook.read()["unfinished"]["1"]["choice"]
    assert (begun["a"], begun["b"], begun["of"], begun["answered"]) == ("012", "004", 8, 3)
    assert set(begun) == {"a", "b", "of", "answered", "right", "began", "unnamed"}, "nothing says what X is"
    ear.page.close()
    again = Ear(opened(own_site.address))
    assert "a forced choice (c)" in again.text("#said")
    again.press("c")
    assert "3 of 8 answered" in again.text("#session") and "012 or 004" in again.text("#session")
    assert "right" not in again.text("#session").replace("What was right so far is told at the end only", "")
    again.press("Enter")
    for _ in range(5):
        assert names_in(again.page) == []
        again.press("Shift+A")
    saved(again)
    there = own_site.notebook.read()
    (trial,) = there["trials"]
    assert (trial["of"], trial["planned"]) == (8, 8) and trial["right"] >= begun["right"]
    assert trial["p"] == pytest.approx(float(binom.sf(trial["right"] - 1, 8, 0.5)), rel=1e-9)
    assert there["unfinished"] == {}


def test_an_unfinished_forced_choice_is_never_dropped_and_keeps_hidden_names(own_ear: Ear, own_site, opened):
    ear = own_ear
    ear.press("b", "c", "Enter", "Shift+A", "Shift+B")
    saved(ear)
    ear.page.close()
    again = Ear(opened(own_site.address))
    again.press("c")
    assert names_in_text(again.text("#session")) == [] and "begun with names hidden" in again.text("#session")
    again.page.get_by_text("end it here").click()
    assert "Ended after 2 of 12" in again.text("#session")
    saved(again)
    there = own_site.notebook.read()
    assert [(trial["of"], trial["planned"]) for trial in there["trials"]] == [(2, 12)] and there["unfinished"] == {}


def names_in_text(text: str) -> list[str]:
    return [word for word in TELLING if word in text]


def test_a_ranking_goes_on_where_it_was_left_also_in_an_exported_page(opened, exported):
    ear = Ear(opened(exported.as_uri()))
    for key in "4567":
        ear.press(key, "d")
    ear.press("r", "Enter", "Shift+A")
    assert "Pair 2" in ear.text("#session")
    ear.page.reload()
    ear.page.wait_for_selector("html[data-ready=yes]")
    ear.press("r")
    assert "1 answers of 3 sounds" in ear.text("#session")
    ear.press("Enter")
    assert "Pair 2" in ear.text("#session") and names_in(ear.page) == []
    for _ in range(2):
        if ear.page.get_by_text("which do you prefer").count():
            ear.press("Shift+A")
    assert ear.page.locator(".ranking li").count() == 3
    ear.press("Escape", "r")
    assert "Rank by pairs" in ear.text("#session"), "what is over does not go on"


def test_what_the_hidden_reference_is_rated_is_said_and_is_no_pick(own_ear: Ear, own_site):
    ear = own_ear
    ear.press("b")
    for key in "1234567":
        ear.press(key, "k")
        assert ear.page.locator(".tile[aria-pressed=true] .mark").inner_text() == "✓ keep", "all alike while hidden"
    ear.press("b")
    assert "the untouched mix was rated keep, which is no pick" in ear.text("#said")
    mix = ear.page.locator(".tile.mix .mark")
    assert mix.inner_text() == "rated ✓ keep"
    ear.press("1", "m")
    assert mix.inner_text() == "rated ✓ keep" and "verdicts are for variants" in ear.text("#said")
    ear.press("k")
    assert mix.inner_text() == ""


@pytest.mark.long
def test_a_ranking_answered_by_ear_is_the_order_that_was_in_mind(own_ear: Ear, own_site, samples):
    ear = own_ear
    mind = ["015", "004", "mix", "021", "007", "012", "009"]
    ear.press("Shift+Digit1", "Space", "r", "Enter")
    for _ in range(13):
        if not ear.page.get_by_text("which do you prefer").count():
            break
        assert names_in(ear.page) == []
        heard = {}
        for letter in "ab":
            ear.press(letter)
            heard[letter] = who_plays(ear, own_site, samples)
        ear.press("Shift+A" if mind.index(heard["a"]) < mind.index(heard["b"]) else "Shift+B")
    shown = ear.page.locator(".ranking li").all_inner_texts()
    assert shown == [{"mix": "untouched mix"}.get(id, id) for id in mind]
    ear.page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")
    assert own_site.notebook.read()["ranking"]["1"]["order"] == mind


@pytest.mark.long
def test_answers_that_go_in_a_circle_are_shown(own_ear: Ear, own_site):
    """Of three: A is always said to be better, whichever it is; where that makes no circle, it is tried again."""
    ear = own_ear
    for key in "4567":
        ear.press(key, "d")
    for _ in range(30):
        ear.press("r", "Enter")
        while ear.page.get_by_text("which do you prefer").count():
            ear.press("Shift+A")
        check = ear.page.get_by_text("check it")
        if check.count():
            check.click()
            ear.press("Shift+A")
        if ear.page.locator(".circles").count():
            break
        ear.press("Escape")
    told = ear.text(".circles li")
    assert told.count(" over ") == 3 and told.count("but") == 1
    ear.press("s")
    ear.page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")
    (circle,) = own_site.notebook.read()["ranking"]["1"]["inconsistent"]
    assert sorted(circle) == ["004", "007", "mix"], json.dumps(circle)
