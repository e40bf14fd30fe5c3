"""A real browser, the page in it, and an ear on what it plays."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from invented_audition import Invented, usual, write_exported
from listening import RECORDER, Ear
from playwright.sync_api import Browser, Page, sync_playwright
from served_page import RATE_HZ, Site

from sweeper.audition.assembled import assembled

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required"]  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield launched
        launched.close()


@pytest.fixture(scope="session")
def sounds() -> list[Invented]:
    return usual(RATE_HZ)


@pytest.fixture(scope="session")
def samples(sounds: list[Invented]) -> dict[str, np.ndarray]:
    """By id, what is played at the mix's frames, silent outside: (2, frames)."""
    frames = sounds[0].samples.shape[1]
    return {s.id: np.asarray(s.samples[:, s.offset_frames : s.offset_frames + frames]) for s in sounds}


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, sounds: list[Invented]) -> Iterator[Site]:
    """One served page for all tests that leave its notes alone."""
    with Site(tmp_path_factory.mktemp("site"), sounds) as served:
        yield served


@pytest.fixture
def own_site(tmp_path: Path, sounds: list[Invented]) -> Iterator[Site]:
    """A served page whose files and notes are this test's own."""
    with Site(tmp_path / "site", sounds) as served:
        yield served


@pytest.fixture(scope="session")
def exported(tmp_path_factory: pytest.TempPathFactory, sounds: list[Invented]) -> Path:
    """The page of an exported folder."""
    folder = tmp_path_factory.mktemp("exported")
    page = folder / "audition.html"
    page.write_text(assembled(write_exported(sounds, RATE_HZ, folder)), "utf-8")
    return page


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Opens an address with nothing remembered, and waits until the page is ready. Fails when the page complains
    of anything but what is `expected`."""
    contexts, complaints = [], []

    def open_page(address: str, width: int = 1280, height: int = 720, script: str = "", expected: str = "",
                  **more: Any) -> Page:  # fmt: skip
        context = browser.new_context(viewport={"width": width, "height": height}, **more)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda m: (
                complaints.append(m.text) if m.type == "error" and not (expected and expected in m.text) else None
            ),
        )
        page.add_init_script(RECORDER + script)
        page.goto(address)
        page.wait_for_selector("html[data-ready=yes]", timeout=10_000)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def ear(opened: Callable[..., Page], site: Site) -> Ear:
    """The served page at full monitor gain, and an ear on it."""
    heard = Ear(opened(site.address))
    heard.full_gain()
    return heard
