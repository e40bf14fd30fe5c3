"""What was picked is saved as it is made, survives two listeners and a server that goes away, and is taken in again."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import Page

from sweeper.records.picks import Picks

#: A browser takes a while until what a test lays in the way holds for every request.
REFUSED = "() => fetch('notes').then((answer) => !answer.ok, () => true)"


def saved(page: Page) -> None:
    page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('saved')")


def test_verdicts_and_notes_are_saved_by_themselves_and_read_back(own_site, opened):
    page = opened(own_site.address)
    for key in ("2", "k", "3", "m", "ArrowRight", "n"):
        page.keyboard.press(key)
    page.keyboard.type("too much at 2 kHz <b>&</b>")
    page.keyboard.press("Enter")
    saved(page)
    there = Picks.from_data(own_site.notebook.read())
    assert (there.picks["004"].verdict, there.picks["007"].verdict) == ("keep", "maybe")
    assert [(note.at_s, note.text) for note in there.picks["007"].notes] == [(5.0, "too much at 2 kHz <b>&</b>")]
    again = opened(own_site.address)
    again.keyboard.press("3")
    assert again.locator(".tile .mark:not(:empty)").all_inner_texts() == ["✓ keep", "? maybe"]
    again.get_by_role("tab", name="notes").click()
    assert "too much at 2 kHz <b>&</b>" in again.locator("#panel").inner_text()
    again.locator("#panel .at").click()
    assert again.locator(".time").inner_text().startswith("0:05.0")
    again.get_by_label("remove the note").click()
    saved(again)
    assert own_site.notebook.read()["picks"]["007"]["notes"] == []


@pytest.mark.long
def test_the_same_verdict_again_takes_it_back_and_another_replaces_it(own_site, opened):
    page = opened(own_site.address)
    for key in ("2", "k", "d", "3", "m", "m"):
        page.keyboard.press(key)
    saved(page)
    assert own_site.notebook.read()["picks"] == {"004": {"verdict": "drop", "notes": []}}


@pytest.mark.long
def test_two_listeners_at_once_lose_nothing_of_each_other(own_site, opened):
    one = opened(own_site.address, expected="409")
    other = opened(own_site.address, expected="409")
    for page, keys in ((one, ("2", "k")), (other, ("3", "d")), (one, ("4", "m"))):
        for key in keys:
            page.keyboard.press(key)
        saved(page)
    assert {id: pick["verdict"] for id, pick in own_site.notebook.read()["picks"].items()} == {
        "004": "keep",
        "007": "drop",
        "009": "maybe",
    }
    marks = one.locator(".tile .mark:not(:empty)")
    marks.nth(2).wait_for()
    assert marks.all_inner_texts() == ["✓ keep", "× drop", "? maybe"]


def test_a_server_that_has_gone_is_told_and_what_was_picked_comes_back_with_it(own_site, opened):
    page = opened(own_site.address, expected="ERR_FAILED")
    page.route("**/notes", lambda route: route.abort())
    page.wait_for_function(REFUSED)
    for key in ("2", "k"):
        page.keyboard.press(key)
    page.wait_for_function("() => document.querySelector('#saved').textContent.startsWith('NOT saved')")
    assert own_site.notebook.read()["picks"] == {}
    page.unroute("**/notes")
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    saved(page)
    assert own_site.notebook.read()["picks"]["004"]["verdict"] == "keep"


def test_a_disk_that_refuses_is_told_in_its_words_and_tried_again_by_itself(own_site, opened):
    page = opened(own_site.address, expected="507")
    told = json.dumps({"error": "notes.json cannot be written: No space left on device"})
    page.route("**/notes", lambda route: route.fulfill(status=507, body=told, content_type="application/json"))
    page.wait_for_function(REFUSED)
    for key in ("2", "k"):
        page.keyboard.press(key)
    page.wait_for_function("() => document.querySelector('#unsaved').textContent.includes('No space left on device')")
    assert page.locator("#unsaved").is_visible()
    page.unroute("**/notes")
    saved(page)
    assert own_site.notebook.read()["picks"]["004"]["verdict"] == "keep"


def test_where_the_server_has_gone_what_was_picked_is_saved_as_a_file(own_site, opened, tmp_path):
    page = opened(own_site.address, expected="ERR_FAILED", accept_downloads=True)
    page.route("**/notes", lambda route: route.abort())
    page.wait_for_function(REFUSED)
    for key in ("2", "k"):
        page.keyboard.press(key)
    with page.expect_download() as caught:
        page.keyboard.press("s")
    caught.value.save_as(tmp_path / "x.json")
    assert Picks.from_data(json.loads((tmp_path / "x.json").read_text("utf-8"))).picks["004"].verdict == "keep"
    assert "Not saved with the run, but downloaded" in page.locator("#unsaved").inner_text()


def test_a_browser_that_keeps_nothing_opens_the_page_and_saves_all_the_same(own_site, opened):
    refusing = """Object.defineProperty(window, "localStorage",
      { get() { throw new DOMException("no", "SecurityError"); } });"""
    page = opened(own_site.address, script=refusing)
    for key in ("2", "k", "t"):
        page.keyboard.press(key)
    saved(page)
    assert own_site.notebook.read()["picks"]["004"]["verdict"] == "keep"


def test_two_pages_of_one_export_lose_nothing_of_each_other(exported, opened):
    one = opened(exported.as_uri())
    other = one.context.new_page()
    other.goto(exported.as_uri())
    other.wait_for_selector("html[data-ready=yes]")
    for page, keys, kept in ((one, "2k", "keep"), (other, "3d", "drop"), (one, "4m", "maybe"), (one, "22", "")):
        for key in keys:
            page.keyboard.press(key)
        for each in (one, other):  # processes of a browser tell each other in their own time
            each.wait_for_function("(kept) => Object.values(localStorage).join().includes(kept)", arg=kept)
    marks = one.locator(".tile .mark:not(:empty)")
    marks.nth(2).wait_for()
    assert marks.all_inner_texts() == ["✓ keep", "× drop", "? maybe"]


@pytest.mark.long
def test_a_page_that_is_closed_at_once_still_saves(own_site, opened):
    page = opened(own_site.address)
    page.keyboard.press("2")
    page.keyboard.press("k")
    page.close(run_before_unload=False)
    for _ in range(50):
        if own_site.notebook.read()["picks"]:
            break
        opened(own_site.address).close()  # takes as long as a page takes
    assert own_site.notebook.read()["picks"]["004"]["verdict"] == "keep"


def test_an_exported_page_keeps_picks_and_saves_them_as_a_file_that_is_taken_in_again(opened, exported, tmp_path):
    page = opened(exported.as_uri(), accept_downloads=True)
    for key in ("2", "k", "3", "d"):
        page.keyboard.press(key)
    assert "not in a file yet" in page.locator("#saved").inner_text()
    with page.expect_download() as caught:
        page.keyboard.press("s")
    assert caught.value.suggested_filename == "lantern-bay.picks.json"
    file = tmp_path / "lantern-bay.picks.json"
    caught.value.save_as(file)
    there = Picks.from_data(json.loads(file.read_text("utf-8")))
    assert {id: pick.verdict for id, pick in there.picks.items()} == {"004": "keep", "007": "drop"}
    assert page.locator("html").evaluate("(all) => all.scrollWidth <= innerWidth"), "however long what is said is"
    box = page.locator("#help-open").bounding_box()
    assert box and box["x"] + box["width"] <= 1280 and box["height"] < 40
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    assert page.locator(".tile .mark:not(:empty)").all_inner_texts() == ["✓ keep", "× drop"]
    elsewhere = opened(exported.as_uri())
    assert elsewhere.locator(".tile .mark:not(:empty)").count() == 0
    elsewhere.keyboard.press("4")
    elsewhere.keyboard.press("m")
    elsewhere.locator("#file").set_input_files(file)
    elsewhere.wait_for_function("() => document.querySelector('#said').textContent.includes('picks taken')")
    assert elsewhere.locator(".tile .mark:not(:empty)").all_inner_texts() == ["✓ keep", "× drop", "? maybe"]
    broken = tmp_path / "broken.json"
    broken.write_text("no picks")
    elsewhere.locator("#file").set_input_files(broken)
    elsewhere.wait_for_function(
        "() => document.querySelector('#said').textContent.includes('broken.json is no file of picks')"
    )
