"""Rows of what was tried on excerpts: never to be taken for renders, in the table, as data and after a kill."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest
from exploring import chain_of
from invented_rows import failed, limits, loudness_solved, measured, row

from sweeper.errors import RunFolderError
from sweeper.plan.reach import Ending
from sweeper.plan.variants import Variant
from sweeper.render.folder import RunFolder
from sweeper.table.data import row_data, row_from
from sweeper.table.frame import frame
from sweeper.table.tried import best_tried, only_tried, tried_before, with_tried

TEXT = """mix: a.wav
inserts: {name: glue, plugin: Comp}
output: {name: limiter, plugin: Brick, drive: raise Input}
vary: {glue.Threshold: {from: -30 dB, to: -10 dB}}
reach: {loudness: -10 LUFS, within: 0.1 LU, by: limiter.drive}
limits: [crest >= 8 dB]
prefer: [crest highest]
explore: {variants: 60, listen to: excerpts}
"""
HELD = limits("crest >= 8 dB")


@pytest.fixture
def chain(tmp_path: Path):
    return chain_of(tmp_path, TEXT)


def tried(id: str, crest: float = 9.0, ending: Ending = Ending.ON_TARGET):
    solved = loudness_solved(-10.0, ending)
    return row(id, measured(crest=crest, psr_db=7.0), HELD, [solved], mix="a.wav", files={}, passes=0,
               match_gain_db=None)  # fmt: skip


def test_the_best_are_chosen_by_limits_targets_and_preference(chain):
    rows = [tried("001", 9.0), tried("002", 7.5), tried("003", 12.0, Ending.OUT_OF_REACH), failed("004", "a.wav"),
            *(tried(f"{n:03d}", n) for n in range(11, 16))]  # fmt: skip
    assert best_tried(chain, rows) == ("015", "014", "013", "012", "011", "001")
    assert best_tried(chain, rows[:4]) == ("001", "003", "002"), "what failed is none, what does not fit comes last"


def test_behind_the_renders_stands_what_was_only_tried_as_it_ranks_and_what_failed(chain):
    heard = {one.id: one for one in (tried("001"), tried("002", 8.5), tried("003", 11.0), failed("004", "a.wav"),
                                     tried("005", 10.0))}  # fmt: skip
    rendered = [row("005", measured(crest=9.7), HELD, [loudness_solved()], mix="a.wav"), failed("003", "a.wav")]
    rows = with_tried(chain, rendered, heard)
    assert [(one.id, one.status) for one in rows] == [
        ("005", "done"), ("001", "tried"), ("002", "tried"), ("003", "failed"), ("004", "failed")]  # fmt: skip
    assert rows[0].on_excerpts.measurements["crest_db"] == 10.0
    assert rows[3].on_excerpts.measurements["crest_db"] == 11.0
    assert rows[4].on_excerpts is None


def test_no_number_of_a_try_stands_where_a_renders_would(chain):
    rows = with_tried(chain, [row("002", measured(crest=9.7), HELD, [loudness_solved()], mix="a.wav", rank=1)],
                      {"001": tried("001", 8.25), "002": tried("002", 9.5)})  # fmt: skip
    table = frame(rows)
    own = table.loc["001"].dropna()
    assert set(own.index) == {
        "mix", "status", "glue.Threshold", "limiter.drive", "notes", "fits (excerpts)", "loudness_lufs (excerpts)",
        "true_peak_dbtp (excerpts)", "crest_db (excerpts)",
    }  # fmt: skip
    assert own["limiter.drive"] == "3 dB (excerpts)"
    assert own["notes"] == "tried on excerpts only, not rendered: the numbers marked so foretell the whole"
    assert (own["crest_db (excerpts)"], own["fits (excerpts)"]) == (8.25, "yes")
    assert table["crest_db (excerpts)"].dtype == "float64"
    assert (table.loc["002", "crest_db"], table.loc["002", "crest_db (excerpts)"]) == (9.7, 9.5)
    assert table.loc["002", "limiter.drive"] == "3 dB"
    assert list(table.columns)[-4:] == [name for name in table.columns if "(excerpts)" in name], "behind all others"
    assert pd.isna(table.loc["001", "rank"])


def test_one_that_does_not_fit_on_excerpts_says_so(chain):
    table = frame([only_tried(chain, tried("001", 7.0)), only_tried(chain, tried("002", 9.0, Ending.OUT_OF_REACH))])
    assert list(table["fits (excerpts)"]) == ["no", "no"]


def test_a_row_comes_back_from_data_with_what_it_came_to_on_excerpts(chain):
    (one,) = with_tried(chain, [], {"001": tried("001")})
    data = row_data(one)
    assert (data["status"], data["measurements"], data["files"], data["kept"]) == ("tried", None, {}, False)
    assert data["on_excerpts"]["measurements"]["crest_db"] == 9.0
    assert "psr_db" not in data["on_excerpts"]["measurements"], "only what the chain file asks for is told"
    assert row_from(data) == replace(one, plugin_s=0.0)


def test_what_was_tried_is_found_again_and_what_is_damaged_is_named(tmp_path: Path):
    folder = RunFolder.create(tmp_path, "heard", datetime(2026, 11, 24))
    folder.subfolder("excerpts")
    folder.write_json("excerpts/002.json", row_data(tried("002")))
    asked = [Variant(id, 0, {}, ()) for id in ("001", "002")]
    assert tried_before(folder, asked) == {"002": tried("002")}
    (folder.path / "excerpts" / "001.json").write_text("{}")
    with pytest.raises(RunFolderError, match="cannot be understood") as raised:
        tried_before(folder, asked)
    assert raised.value.remedy == "remove it, and the variant is tried anew"
