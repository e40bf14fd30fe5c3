"""A run's table read back in Python is the table that was written."""

from __future__ import annotations

import json
import subprocess
import sys

import pandas as pd
import pytest
from invented_rows import failed, limits, loudness_solved, measured, row

import sweeper
from sweeper.errors import RunFolderError
from sweeper.quantities import Measurements
from sweeper.table.data import csv_text
from sweeper.table.frame import frame

HELD = limits("crest >= 8 dB")
ROWS = [
    row("003", Measurements(measured(-10.1234567).values, {}, {"verse": measured(crest=None)}), HELD,
        [loudness_solved()], settings={"colour": "None", "glue.Mode": "nan", "glue.Ratio": "4"}, rank=1,
        notes=("one, two", 'a "third"')),
    row("001", measured(crest=None), HELD, [loudness_solved()], settings={"colour": "NA", "glue.Ratio": "1e3"}),
    failed("002"),
]  # fmt: skip
MIXES = [{"file": "mix.wav", "measurements": {"loudness_lufs": -18.0}, "match_gain_db": 0.0}]


def written(folder, rows=ROWS, **more):
    data = {"schema": 1, "title": "Tin Boats", "state": "finished", "chain": "mix: mix.wav\n",
            "answer": {"mixes": MIXES, "references": []}, **more}  # fmt: skip
    (folder / "run.json").write_text(json.dumps(data), encoding="utf-8")
    (folder / "table.csv").write_bytes(csv_text(rows).encode())
    return folder


def test_what_is_read_back_is_what_was_written_to_the_bit(tmp_path):
    table = sweeper.load_run(written(tmp_path))
    pd.testing.assert_frame_equal(table, frame(ROWS), check_exact=True)
    assert list(table.index) == ["003", "001", "002"]
    assert list(table["glue.Ratio"])[:2] == ["4", "1e3"], "a setting stays as it was written"
    assert list(table["colour"])[:2] == ["None", "NA"], "only an empty cell is missing"


def test_what_the_run_was_goes_with_the_table(tmp_path):
    table = sweeper.load_run(str(written(tmp_path) / "table.csv"))
    assert table.attrs["title"] == "Tin Boats"
    assert table.attrs["run"] == str(tmp_path)
    assert table.attrs["chain"] == "mix: mix.wav\n"
    assert table.attrs["state"] == "finished"
    assert table.attrs["mixes"] == MIXES


@pytest.mark.parametrize(
    ("spoil", "what"),
    [
        (lambda run: (run / "run.json").unlink(), "is no run's folder"),
        (lambda run: (run / "table.csv").unlink(), "has no table.csv yet"),
        (lambda run: (run / "run.json").write_text("{"), "cannot be understood"),
        (lambda run: (run / "run.json").write_text("[]"), "schema 1"),
        (lambda run: (run / "run.json").write_text('{"schema": 2}'), "schema 1"),
        (lambda run: (run / "run.json").write_bytes(b"\xff\xfe"), "cannot be understood"),
        (lambda run: (run / "table.csv").write_text(""), "cannot be understood"),
        (lambda run: (run / "table.csv").write_text("variant,crest_db\n001,loud\n"), "cannot be understood"),
        (lambda run: (run / "table.csv").write_text("crest_db\n3\n"), "cannot be understood"),
    ],
)  # fmt: skip
def test_a_folder_that_is_no_run_is_said_with_a_remedy(tmp_path, spoil, what):
    spoil(written(tmp_path))
    with pytest.raises(RunFolderError) as error:
        sweeper.load_run(tmp_path)
    assert what in error.value.what
    assert error.value.remedy


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(RunFolderError, match="gone is not there"):
        sweeper.load_run(tmp_path / "gone")


def test_the_package_offers_this_and_no_more_and_imports_nothing_heavy():
    assert sweeper.__all__ == ("__version__", "load_run")
    code = "import sys, sweeper; print([name for name in ('pandas', 'numpy', 'click') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_package_says_that_it_is_typed():
    from pathlib import Path

    assert (Path(sweeper.__file__).parent / "py.typed").is_file()
