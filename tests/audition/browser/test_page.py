"""The page as it is met: by keys alone, at rest, in both themes, with damage, and with every picture."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import pytest
from invented_audition import usual
from listening import Ear
from playwright.sync_api import Page
from served_page import RATE_HZ, Site

IDLE = """
globalThis.frames_asked = 0;
const ask = requestAnimationFrame;
globalThis.requestAnimationFrame = (seen) => { frames_asked += 1; return ask(seen); };
globalThis.intervals = 0;
const every = setInterval;
globalThis.setInterval = (...more) => { intervals += 1; return every(...more); };
"""


def busy_s(page: Page) -> float:
    """Seconds that the page's main thread was at work, from the browser's own metrics."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    metrics = {m["name"]: m["value"] for m in session.send("Performance.getMetrics")["metrics"]}
    return float(metrics["TaskDuration"])


def test_a_paused_page_is_idle(opened, site):
    page = opened(site.address, script=IDLE)
    ear = Ear(page)
    assert ear.state() == "suspended", "nothing runs before the first play"
    ear.full_gain()
    ear.press("l", "Space")
    ear.listen(0.3)
    assert ear.state() == "running"
    ear.stop()
    before = page.evaluate("() => [frames_asked, intervals, ear.contexts.at(-1).currentTime]")
    worked = busy_s(page)
    page.wait_for_timeout(1000)
    assert busy_s(page) - worked < 0.1
    after = page.evaluate("() => [frames_asked, intervals, ear.contexts.at(-1).currentTime]")
    assert after == before and before[1] == 0


def test_everything_is_reached_by_tab_and_shows_where_it_is(opened, site):
    page = opened(site.address)
    page.keyboard.press("2")
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        name, outlined = page.evaluate("""() => {
          const at = document.activeElement;
          const style = getComputedStyle(at);
          const name = (at.getAttribute("aria-label") ?? at.textContent ?? "").trim();
          return [name, style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2];
        }""")  # fmt: skip
        if page.evaluate("() => document.activeElement === document.body"):
            break
        assert outlined, name
        reached.add(name)
    wanted = (
        "position",
        "monitor gain, dB",
        "note at this place",
        "dark or light",
        "Spaceplay",
        "bblind",
        "cforced choice",
        "rrank",
        "lloop",
    )
    assert [name for name in wanted if name not in reached] == []
    assert sum("004" in name for name in reached) >= 1


def test_keys_do_what_the_list_of_keys_says(opened, site):
    page = opened(site.address)
    ear = Ear(page)
    ear.press("?")
    listed = page.locator("#help dt").all_inner_texts()
    assert {"Space", "1 … 9 0", "f", "v", "[ ]", "o", "k m d", "n", "b", "c", "r", "p", "t"} <= {
        text.strip() for text in listed
    }
    memory = page.locator("#memory").inner_text()
    assert re.search(r"10 s of each of 8 sounds are held at a time, \d+ MB", memory)
    assert "Mind your ears" in page.locator("#help").inner_text()
    ear.press("Escape")
    chosen = page.locator(".tile[aria-pressed=true] .name")
    ear.press("3")
    assert chosen.inner_text() == "007"
    ear.press("ArrowDown", "ArrowDown")
    assert chosen.inner_text() == "012"
    ear.press("ArrowUp", "f", "f", "f")
    assert chosen.inner_text() == "012"
    ear.press("ArrowRight")
    assert ear.text(".time").startswith("0:05.0")
    ear.press("Shift+ArrowLeft", "[")
    assert ear.text(".time").startswith("0:04.0") and "loop 0:02.0" in ear.text("#transport")
    ear.press("Home", "l")
    assert ear.text("#said") == "loop off"
    ear.press("-", "-", "+")
    assert ear.text(".monitor-gain") == "−21 dB"
    ear.press("p")
    assert page.get_by_role("tab", name="map").get_attribute("aria-selected") == "true"


def test_a_key_before_anything_is_there_does_nothing(opened, site):
    early = """addEventListener("DOMContentLoaded", () => { for (const key of [" ", "2", "ArrowRight", "k"])
      document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true })); });"""
    page = opened(site.address, script=early)  # a complaint fails the test
    assert page.locator(".tile[aria-pressed=true] .name").inner_text() == "untouched mix"


def test_brackets_count_however_a_keyboard_makes_them(opened, site):
    page = opened(site.address)
    page.keyboard.press("ArrowRight")
    page.evaluate("""() => document.body.dispatchEvent(new KeyboardEvent("keydown",
      { key: "]", code: "Digit9", ctrlKey: true, altKey: true, bubbles: true }))""")
    assert "loop 0:05.0" in page.locator("#transport").inner_text()


def test_letters_act_as_keys_only_while_that_is_wanted(opened, site):
    page = opened(site.address)
    page.keyboard.press("?")
    page.get_by_label("letters and digits act as keys").uncheck()
    page.keyboard.press("Escape")
    page.keyboard.press("3")
    assert page.locator(".tile[aria-pressed=true] .name").inner_text() == "untouched mix"


def test_the_map_shows_every_variant_and_plays_those_that_are_kept(opened, site):
    page = opened(site.address)
    page.get_by_role("tab", name="map").click()
    assert page.locator(".point").count() == 6 + 15
    assert page.locator(".point.kept").count() == 6 and page.locator(".point.front").count() == 2
    page.get_by_role("button", name=re.compile("^009,")).dispatch_event("click")
    assert page.locator(".tile[aria-pressed=true] .name").inner_text() == "009"
    assert page.locator(".point.chosen text").text_content() == "009"
    page.get_by_role("button", name=re.compile("^030,")).dispatch_event("click")
    assert "030 has no sound here" in page.locator("#said").inner_text()
    page.locator("[data-axis=x]").select_option("true_peak_dbtp")
    assert page.locator(".point").count() == 6, "only those that have it"
    page.locator(".point[tabindex='0']").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert page.locator(".tile[aria-pressed=true] .name").inner_text() != "009"


def test_pictures_and_numbers_are_those_of_the_manifest(opened, site):
    page = opened(site.address)
    entry = site.manifest["mixes"][0]["sounds"][4]
    page.keyboard.press("5")
    look = page.locator("#panel").inner_text()
    assert "loudness −14 LUFS" in look and entry["limits"][0]["margin"].replace("-", "−") in look
    assert page.locator(".over").count() == len(entry["overs_s"]) == 2
    assert page.locator(".attenuation").count() == 1
    highest = page.locator(".tone rect").evaluate_all(
        "(bars) => bars.map((bar) => [bar.getAttribute('class'), Number(bar.getAttribute('height'))])"
    )
    assert len(highest) == 30, "one has no value"
    loudest = max(db for db in entry["thirds_difference_db"] if db is not None)
    lowest = min(db for db in entry["thirds_difference_db"] if db is not None)
    tallest = [max(high for kind, high in highest if kind == k) for k in ("more", "less-of")]
    assert tallest[0] / tallest[1] == pytest.approx(loudest / -lowest, rel=0.01)
    page.get_by_role("tab", name="numbers").click()
    row = page.get_by_role("row", name=re.compile("true peak")).inner_text()
    assert f"{entry['true_peak_dbtp']:.2f}".replace("-", "−") in row
    assert page.get_by_title("shorter than the windows that it takes").first.inner_text() == "none*"
    page.keyboard.press("9")
    page.get_by_role("tab", name="look").click()
    assert "0.31 dB over full scale" in page.locator("#panel").inner_text()


def test_a_sound_that_is_damaged_or_gone_is_named_and_the_others_play(own_site, opened):
    (own_site.folder / "audio" / "004").write_bytes(b"no sound at all")
    (own_site.folder / "audio" / "007").unlink()
    page = opened(own_site.address, expected="404")
    page.wait_for_selector("#alarm:visible")
    ear = Ear(page)
    ear.full_gain()
    ear.press("4")
    ear.press("l")
    assert abs(ear.play_and_listen(0.2)).max() > 0.05
    ear.press("2")
    page.wait_for_function("() => /no WAV file|404/.test(document.querySelector('#alarm').textContent)")
    assert abs(ear.listen(0.1)).max() > 0.05, "what was heard goes on"


def test_what_is_missing_is_told_once_and_asked_for_now_and_then(own_site, opened):
    (own_site.folder / "audio" / "007").unlink()
    page = opened(own_site.address, expected="404")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url) if request.url.endswith("/007") else None)
    page.wait_for_selector("#alarm:visible")
    page.evaluate("""() => { globalThis.told = 0;
      new MutationObserver((all) => (told += all.length)).observe(document.querySelector("#alarm"),
        { attributes: true, childList: true, subtree: true, characterData: true }); }""")
    ear, began_s = Ear(page), time.monotonic()
    ear.press("l", "Space")
    ear.listen(1.5)
    assert "007 could not be read" in ear.text("#alarm")
    assert page.evaluate("told") <= 4, "read out again and again"
    assert len(asked) <= 5 + (time.monotonic() - began_s) / 2, "at the page, at each key, then every two seconds"


def test_what_could_not_be_read_is_not_named_while_names_are_hidden(own_site, opened):
    (own_site.folder / "audio" / "007").unlink()
    page = opened(own_site.address, expected="404")
    page.wait_for_selector("#alarm:visible")
    page.keyboard.press("b")
    assert "reveal the names" in page.locator("#alarm").inner_text()
    page.keyboard.press("b")
    assert "007" in page.locator("#alarm").inner_text()


SCHEMES = [("dark", 1280, 720), ("light", 1280, 720), ("dark", 1920, 1080), ("light", 1920, 1080)]


@pytest.mark.parametrize("scheme, width, height", SCHEMES[:2], ids=["dark", "light"])
def test_at_1280_by_720_nothing_is_cut_off_and_letters_stand_out(opened, site, scheme, width, height):
    """Contrast as WCAG 2.2 defines it: 4.5 for text (1.4.3), 3 for what pictures are made of (1.4.11)."""
    page = opened(site.address, width, height, color_scheme=scheme)
    page.keyboard.press("2")
    fits = "(all) => all.scrollWidth <= innerWidth && all.scrollHeight <= innerHeight"
    assert page.locator("html").evaluate(fits)
    for selector in ("#timeline", "#tiles", "#verdict", "#transport", "#panel", "#help-open"):
        box = page.locator(selector).bounding_box()
        assert box and box["x"] >= 0 and box["x"] + box["width"] <= width and box["y"] + box["height"] <= height, (
            selector
        )
    colours = page.evaluate("""() => {
      const style = getComputedStyle(document.documentElement);
      const names = ["ground", "card", "ink", "faint", "accent", "on-accent", "ochre", "alarm", "good", "wave", "less",
        "ochre-soft", "accent-soft", "alarm-soft"];
      return Object.fromEntries(names
        .map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
    }""")  # fmt: skip
    dark = sum(int(colours["ground"][i : i + 2], 16) for i in (1, 3, 5)) < 3 * 128
    assert dark == (scheme == "dark")
    for text in ("ink", "faint", "ochre", "alarm", "good"):
        for ground in ("ground", "card"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for text, ground in (("on-accent", "accent"), ("ink", "ochre-soft"), ("ink", "accent-soft"), ("ink", "alarm-soft")):
        assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for mark in ("wave", "less", "accent"):
        assert contrast(colours[mark], colours["card"]) >= 3, mark
    sizes = page.evaluate("""() => [...document.querySelectorAll("body *")]
      .filter((e) => e.checkVisibility() && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
      .map((e) => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim().slice(0, 20)])
      .filter(([size]) => size < 14)""")
    assert sizes == []


@pytest.fixture(scope="module")
def crowded(tmp_path_factory):
    """Thirteen sounds, one with a name that is too long."""
    mix, *others = usual(RATE_HZ)
    more = [replace(others[0], id=f"{n:03d}", name=f"{n:03d}") for n in (31, 32, 33)]
    record = replace(others[6], id="reference-2", name="an-older-record-that-the-client-likes.wav")
    with Site(tmp_path_factory.mktemp("crowded"), [mix, *others, *more, record]) as served:
        yield served


def test_with_thirteen_sounds_and_the_caution_verdicts_and_notes_are_in_view(opened, crowded):
    page = opened(crowded.address, 1280, 720)
    for key in "3k4m5k":
        page.keyboard.press(key)
    for tile in page.locator(".tile:has(.mark:not(:empty))").all():
        gain, mark = tile.locator(".gain").bounding_box(), tile.locator(".mark").bounding_box()
        assert gain["y"] == mark["y"], "in one line"
    assert page.locator("#help-open").bounding_box()["x"] > 1100, "at the right edge"
    assert page.locator("#caution").is_visible() and page.locator("#said").inner_text()
    high, seen = page.locator("#listening").evaluate("(all) => [all.scrollHeight, all.clientHeight]")
    assert high <= seen
    page.set_viewport_size({"width": 1280, "height": 600})  # where nothing helps, only what stands above scrolls
    row, all_of_it = page.locator("#verdict").bounding_box(), page.locator("#listening").bounding_box()
    assert row["y"] + row["height"] <= all_of_it["y"] + all_of_it["height"] + 1


def test_what_a_session_asks_is_not_behind_the_verdicts(opened, crowded):
    page = opened(crowded.address, 1280, 720)
    page.keyboard.press("c")
    button, row = page.locator("#session .go").bounding_box(), page.locator("#verdict").bounding_box()
    assert button["y"] + button["height"] <= row["y"]


def test_the_table_of_numbers_is_as_wide_as_its_panel(opened, site):
    page = opened(site.address)
    page.get_by_role("tab", name="numbers").click()
    page.keyboard.press("3")
    long = "(cell) => (cell.textContent = 'limiter.attenuation.median.most')"
    page.locator("#panel th[scope=row]").first.evaluate(long)
    assert page.locator("#panel").evaluate("(panel) => panel.scrollWidth <= panel.clientWidth")


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.long
def test_the_theme_key_goes_round_and_is_remembered(opened, site):
    page = opened(site.address, color_scheme="light")
    ground = "() => getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(ground)
    page.keyboard.press("t")
    dark = page.evaluate(ground)
    assert dark != light
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    assert page.evaluate(ground) == dark
    page.keyboard.press("t")
    assert page.evaluate(ground) == light
