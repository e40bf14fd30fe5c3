"""Steps are shared: foreseen = done = what a witness in the chain saw; the store never changes a sample."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from plugin_builder import build
from whole_runs import Ran, chain_file, mix, renders_seen, sweeper

SECONDS, RATE_HZ = 3.0, 44100
FRAMES = round(SECONDS * RATE_HZ)
CHAIN = """
title: shared
mix: mix.wav
inserts:
  - {name: first, plugin: ZaMaximX2, settings: {Threshold: -2 dB}}
  - {name: seen, plugin: Probe Witness}
  - {name: dear, plugin: ZaMaximX2}
output:
  - {name: last, plugin: Probe Witness Two}
vary:
  seen.Amount: [1, 2]
  dear.Threshold: [-2 dB, -3 dB]
  last.Amount: [1, 2]
"""


@pytest.fixture(scope="module")
def witnesses(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("witnesses")
    build("witness", folder)
    build("witness", folder, title="Probe Witness Two")
    return folder


@pytest.fixture(scope="module")
def figures(tmp_path_factory: pytest.TempPathFactory, witnesses: Path) -> dict[str, float]:
    """The speeds that were tried here, by their names."""
    place = tmp_path_factory.mktemp("figures")
    mix(place / "mix.wav", SECONDS)
    checked = sweeper("check", chain_file(place, CHAIN), cwd=place, plugins=witnesses,
                      SWEEPER_STORE=str(place / "store"))  # fmt: skip
    assert checked.code == 0, checked.err
    found: dict[str, float] = json.loads((place / "store" / "figures.json").read_text())
    return found


@pytest.fixture
def place(tmp_path: Path) -> Path:
    mix(tmp_path / "mix.wav", SECONDS)
    chain_file(tmp_path, CHAIN)
    return tmp_path


def ran_in(place: Path, text: str, plugins: Path, *options: object, store: str = "store") -> Ran:
    witness = place / "witness"
    witness.unlink(missing_ok=True)
    chain = chain_file(place, text)
    ran = sweeper("run", chain, "--json", *options, cwd=place, plugins=plugins, SWEEPER_STORE=str(place / store),
                  SWEEPER_WITNESS=str(witness))  # fmt: skip
    assert ran.code == 0, ran.err
    return ran


def remembered(place: Path, figures: dict[str, float], dear: bool, store: str = "store") -> Path:
    """Put figures in place of those tried here: every stage slow, or every stage as fast as can be."""
    (place / store).mkdir(exist_ok=True)
    slow = {name: 1.0 if dear else 1e-6 for name in figures if not name.startswith(("pass", "store"))}
    (place / store / "figures.json").write_text(json.dumps(figures | slow))
    return place


@pytest.fixture
def dear(place: Path, figures: dict[str, float]) -> Path:
    """A place where every stage counts as slow, so that everything used again is stored."""
    return remembered(place, figures, dear=True)


def work(ran: Ran) -> dict[str, Any]:
    found: dict[str, Any] = ran.data["work"]
    return found


def test_foreseen_is_done_is_what_the_witnesses_saw(dear, witnesses):
    checked = sweeper("check", dear / "test.chain.yaml", "--json", cwd=dear, plugins=witnesses,
                      SWEEPER_STORE=str(dear / "store")).data  # fmt: skip
    ran = ran_in(dear, CHAIN, witnesses)
    assert checked["steps"] == work(ran)["steps_predicted"] == work(ran)["steps_done"] == 1 + 2 + 4 + 8
    assert renders_seen(dear / "witness", FRAMES) == 2 + 8, "the middle one once a setting, the last once a variant"
    assert work(ran)["steps_unshared"] == 8 * 4


@pytest.mark.long
def test_stages_too_fast_to_store_are_rendered_with_every_variant(place, witnesses, figures):
    remembered(place, figures, dear=False)
    ran = ran_in(place, CHAIN, witnesses)
    assert work(ran)["steps_predicted"] == work(ran)["steps_done"] == 32
    assert renders_seen(place / "witness", FRAMES) == 16


@pytest.mark.long
def test_another_last_stage_renders_the_last_stage_only(dear, witnesses):
    ran_in(dear, CHAIN, witnesses)
    ran = ran_in(dear, CHAIN.replace("last.Amount: [1, 2]", "last.Amount: [4]"), witnesses)
    assert work(ran)["steps_done"] == 4
    assert renders_seen(dear / "witness", FRAMES) == 4
    assert work(ran)["steps_in_store"] == 7


@pytest.mark.long
def test_a_chain_without_vary_leaves_what_its_last_stage_starts_from(dear, witnesses):
    text = CHAIN.split("vary:")[0]
    assert work(ran_in(dear, text, witnesses))["steps_done"] == 4
    changed = text.replace("Witness Two", "Witness Two, settings: {Amount: 7}")
    again = ran_in(dear, changed, witnesses)
    assert work(again)["steps_done"] == 1


@pytest.mark.long
def test_the_sound_is_the_same_with_and_without_the_store_and_with_any_number_of_workers(dear, witnesses, figures):
    for number in (1, 2, 3):
        remembered(dear, figures, dear=True, store=f"store {number}")
    stored = [ran_in(dear, CHAIN, witnesses, "--workers", n, store=f"store {n}") for n in (1, 2, 3)]
    again = ran_in(dear, CHAIN, witnesses, store="store 2")
    whole = ran_in(dear, CHAIN, witnesses, "--store-limit", "0")
    tables = {(dear / ran.data["run"] / "table.csv").read_bytes() for ran in (*stored, again, whole)}
    assert len(tables) == 1
    sounds = [[json.loads((dear / ran.data["run"] / v["files"]["recall"]).read_text())["audio_sha256"]
               for v in ran.data["variants"]] for ran in (*stored, again, whole)]  # fmt: skip
    assert all(sound == sounds[0] for sound in sounds)
    assert work(again)["steps_done"] < work(whole)["steps_done"]


@pytest.mark.long
def test_sheets_tell_of_every_stage_whoever_rendered_it(dear, witnesses):
    whole = ran_in(dear, CHAIN, witnesses, "--store-limit", "0")
    shared = ran_in(dear, CHAIN, witnesses)
    for one, other in zip(whole.data["variants"], shared.data["variants"], strict=True):
        sheets = [json.loads((dear / ran.data["run"] / v["files"]["recall"]).read_text())
                  for ran, v in ((whole, one), (shared, other))]  # fmt: skip
        assert sheets[0]["stages"] == sheets[1]["stages"]
        assert [stage["name"] for stage in sheets[1]["stages"]] == ["first", "seen", "dear", "last"]


@pytest.mark.long
def test_a_damaged_entry_is_rendered_anew_and_the_sound_is_right(dear, witnesses):
    first = ran_in(dear, CHAIN, witnesses)
    entries = sorted((dear / "store").glob("??/*.wav"))
    assert len(entries) == 7
    for entry in entries:
        content = bytearray(entry.read_bytes())
        content[len(content) // 2] ^= 1
        entry.write_bytes(content)
    again = ran_in(dear, CHAIN, witnesses)
    assert work(again)["steps_rebuilt"] > 0
    tables = {(dear / ran.data["run"] / "table.csv").read_bytes() for ran in (first, again)}
    assert len(tables) == 1


@pytest.mark.long
def test_two_runs_at_once_share_one_store_and_give_the_same(dear, witnesses):
    from concurrent.futures import ThreadPoolExecutor

    alone = ran_in(dear, CHAIN, witnesses, store="another store")
    chain = chain_file(dear, CHAIN)

    def one(results: str) -> Ran:
        return sweeper("run", chain, "--json", "--results", results, cwd=dear, plugins=witnesses,
                       SWEEPER_STORE=str(dear / "store"))  # fmt: skip

    with ThreadPoolExecutor(2) as threads:
        both = list(threads.map(one, ("one", "two")))
    tables = {(dear / ran.data["run"] / "table.csv").read_bytes() for ran in (alone, *both)}
    assert len(tables) == 1


@pytest.mark.long
def test_a_store_of_little_room_never_grows_past_it(dear, witnesses):
    size = FRAMES * 2 * 4
    ran_in(dear, CHAIN, witnesses, "--store-limit", f"{2.5 * size / 1e6 + 1:.3f} MB")
    held = sum(file.stat().st_size for file in (dear / "store").glob("??/*"))
    assert size < held <= 2.5 * size + 1e6
