"""Which past masters come back: each once, its copies not counted, and what cannot be made is a line and no end."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from plugin_builder import build
from plugin_fixtures import stage
from recall_sheets import copied, rendered

from sweeper.errors import SheetError
from sweeper.recall.asked import Asked
from sweeper.recall.every import Line, every, exit_code, masters
from sweeper.recall.verdict import Verdict


@pytest.fixture(scope="module")
def made(pool, tmp_path_factory) -> Path:
    """A folder with three runs: of a built-in gain, of our own gain, and a recall of the first."""
    folder = tmp_path_factory.mktemp("made")
    build("gain", folder, title="Drawn Gain", GAIN_DB=-6.0)
    first = rendered(pool, folder, stage("builtin:Gain", gain_db="-3 dB"))
    rendered(pool, folder, stage(folder / "Drawn Gain.vst3", name="g"))
    data = json.loads(first.read_text())
    copy = folder / "results" / "2026-11-25-recall-lantern" / "variants" / "004" / "recall.json"
    copy.parent.mkdir(parents=True)
    copy.write_text(json.dumps(data | {"id": "f" * 24, "parent": data["id"]}))
    return folder


@pytest.fixture
def results(made, tmp_path) -> Path:
    """The results in it, to do with as a test likes."""
    return copied(made, tmp_path) / "results"


def lines(results: Path) -> tuple[Line, ...]:
    return every(masters(results, False), Asked(results), lambda number, place: None)


@pytest.mark.parametrize(("codes", "expected"), [((0, 0), 0), ((0, 3), 3), ((3, 4, 0), 4), ((4, 6, 3), 6)])
def test_the_worst_that_any_master_has_is_the_exit_code(codes, expected):
    """6 before 4 before 3, as the README has it."""
    assert exit_code([Line(Path("x"), "run", "t", "001", code=code) for code in codes]) == expected


@pytest.mark.long
def test_after_an_update_those_that_do_not_come_back_are_named(results, tmp_path):
    assert len(list(results.glob("*/variants/*/recall.json"))) == 3
    runs = sorted(results.iterdir())
    both = lines(results)
    assert [line.made.verdict for line in both] == [Verdict.IDENTICAL, Verdict.IDENTICAL], "a copy is no master"
    assert exit_code(both) == 0
    shutil.rmtree(tmp_path / "Drawn Gain.vst3")
    build("gain", tmp_path, title="Drawn Gain", GAIN_DB=-6.1)
    updated = lines(results)
    assert [line.made.verdict for line in updated] == [Verdict.IDENTICAL, Verdict.DIFFERS]
    assert updated[1].as_data()["first_stage"]["stage"] == "'g' (Drawn Gain)"
    assert exit_code(updated) == 6
    assert sorted(results.iterdir()) == runs, "nothing that was rendered is kept"


def test_a_recall_that_differs_is_no_master_and_one_whose_master_is_gone_is(results):
    (copy,) = results.glob("*recall*/variants/*/recall.json")
    data = json.loads(copy.read_text())
    copy.write_text(json.dumps(data | {"audio_sha256": "d" * 64}))
    assert copy not in masters(results, False)
    assert copy in masters(copy.parents[2], False)
    copy.write_text(json.dumps(data | {"audio_sha256": "d" * 64, "change": "loudness -0.5 LU by limiter.drive"}))
    assert copy in masters(results, False), "a revision is a master of its own"


def test_what_cannot_be_made_is_a_line(results, tmp_path):
    shutil.rmtree(tmp_path / "Drawn Gain.vst3")
    damaged = results / "2020-damaged" / "variants" / "001" / "recall.json"
    damaged.parent.mkdir(parents=True)
    damaged.write_text("{")
    told = lines(results)
    assert [line.code for line in told] == [3, 0, 4]
    assert "not a recall sheet" in told[0].trouble
    assert "no plugin is called 'Drawn Gain'" in told[2].trouble
    assert exit_code(told) == 4, "a plugin that is missing comes before a sheet that is wrong"
    assert told[2].as_data()["verdict"] is None


def test_a_mix_that_is_gone_is_told_as_such(results, tmp_path):
    (tmp_path / "mix.wav").unlink()
    told = lines(results)
    assert [line.code for line in told] == [3, 3]
    assert "is not at" in told[0].trouble
    assert exit_code(told) == 3


def test_only_what_was_picked(results):
    run = sorted(results.iterdir())[0]
    with pytest.raises(SheetError, match="no recall sheet that was picked"):
        masters(results, True)
    (run / "audition").mkdir()
    (run / "audition" / "notes.json").write_text(json.dumps({"picks": {"004": {"verdict": "keep"}}}))
    assert masters(results, True) == [run / "variants" / "004" / "recall.json"]


def test_a_folder_without_masters_is_told(tmp_path):
    with pytest.raises(SheetError, match="has no recall sheet in it"):
        masters(tmp_path, False)
