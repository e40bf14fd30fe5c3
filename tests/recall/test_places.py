"""Sheets are found in results folders, in runs and in unpacked archives, each once."""

from __future__ import annotations

from sweeper.recall.places import runs_in, sheets_in


def sheet(folder, variant="001"):
    place = folder / "variants" / variant / "recall.json"
    place.parent.mkdir(parents=True)
    place.write_text("{}")
    return place


def test_in_a_results_folder_the_latest_run_comes_first(tmp_path):
    old, new = sheet(tmp_path / "2026-01-01-a"), sheet(tmp_path / "2026-02-01-a")
    assert list(sheets_in([tmp_path])) == [new, old]
    assert list(runs_in([tmp_path])) == [tmp_path / "2026-02-01-a", tmp_path / "2026-01-01-a"]


def test_a_run_by_itself_and_twice_named_counts_once(tmp_path):
    one, two = sheet(tmp_path / "run"), sheet(tmp_path / "run", "002")
    assert list(sheets_in([tmp_path / "run", tmp_path, tmp_path / "nowhere"])) == [one, two]
    assert list(runs_in([tmp_path / "run", tmp_path])) == [tmp_path / "run"]
