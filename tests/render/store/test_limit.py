from __future__ import annotations

import shutil

import pytest
from store_program import key, put, sound

from sweeper.errors import StoreError, SweeperError
from sweeper.render.store import Store, default_limit_bytes, parse_limit


@pytest.mark.parametrize(
    ("text", "expected"),
    [("20 GB", 20_000_000_000), ("500 MB", 500_000_000), ("0", 0), ("0 GB", 0), ("1,5 tb", 1_500_000_000_000),
     ("64kB", 64_000), ("2 GiB", 2 * 1024**3), ("1 MiB", 1_048_576), (" 3\u00a0GB ", 3_000_000_000)],
)  # fmt: skip
def test_amounts_of_disk_space(text, expected):
    """SI: 1 GB is 10^9 bytes; IEC 80000-13: 1 GiB is 2^30."""
    assert parse_limit(text) == expected


@pytest.mark.parametrize("text", ["", "much", "20", "-1 GB", "20 dB", "1e999 GB", "0 dB", "20 %"])
def test_what_is_none_is_refused_with_an_example(text):
    with pytest.raises(SweeperError, match="20 GB") as caught:
        parse_limit(text)
    assert f'"{text}"' in caught.value.what


def test_the_default_is_a_fifth_of_what_would_be_free_without_the_store(tmp_path, monkeypatch):
    folder = tmp_path / "not" / "made" / "yet"
    monkeypatch.setattr(shutil, "disk_usage", lambda path: shutil._ntuple_diskusage(10**9, 0, 10**6))
    assert default_limit_bytes(folder) == 200_000
    put(folder, key(1), sound(10_000))
    with Store(folder, 10**9) as store:
        assert store.total_bytes() > 80_000
        assert default_limit_bytes(folder) == (10**6 + store.total_bytes()) // 5


def test_looking_for_the_room_makes_no_folder(tmp_path):
    assert 0 < default_limit_bytes(tmp_path / "a" / "b") < shutil.disk_usage(tmp_path).total
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_does_not_answer(tmp_path, monkeypatch):
    def broken(path):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(shutil, "disk_usage", broken)
    with pytest.raises(StoreError, match="Input/output error"):
        default_limit_bytes(tmp_path)
