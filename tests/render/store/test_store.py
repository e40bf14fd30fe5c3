from __future__ import annotations

import time
from pathlib import Path

import pytest
from store_program import ROOMY_BYTES, child, key, put, sound

from sweeper.errors import StoreDamaged, StoreError
from sweeper.render.store import Store, open_entry
from sweeper.render.store.contents import entries
from sweeper.render.store.place import README_NAME, json_path, wav_path

A, B, C, D = (key(letter) for letter in "abcd")


def filled(folder, *names):
    """Entries of one size, used in this order; their size."""
    with Store(folder, ROOMY_BYTES) as store:
        for name in names:
            assert store.reserve(name, 10_000)
            put(folder, name, sound(500))
            store.release(name)
        return store.bytes_of(names[0])


def there(folder, *names):
    return [name for name in names if name in entries(folder)]


def test_an_entry_is_there_once_it_is_written_and_stays_between_runs(tmp_path):
    with Store(tmp_path / "new" / "store", ROOMY_BYTES) as store:
        assert not store.has(A) and not store.claim(A) and store.bytes_of(A) == 0
        assert store.reserve(A, 10_000) and not store.has(A)
        put(store.folder, A, sound(500))
        assert store.has(A) and store.claim(A)
    with Store(tmp_path / "new" / "store", ROOMY_BYTES) as store:
        assert store.claim(A)
        both = wav_path(store.folder, A), json_path(store.folder, A)
        assert store.total_bytes() == store.bytes_of(A) == sum(path.stat().st_size for path in both)
        assert open_entry(store.folder, A).file.frames == 500


def test_the_folder_says_what_it_is_and_leaves_what_is_there(tmp_path):
    with Store(tmp_path, ROOMY_BYTES):
        assert "may be deleted" in (tmp_path / README_NAME).read_text()
    (tmp_path / README_NAME).write_text("mine")
    with Store(tmp_path, ROOMY_BYTES):
        assert (tmp_path / README_NAME).read_text() == "mine"


def test_the_least_recently_used_goes_first(tmp_path):
    size = filled(tmp_path, A, B, C)
    with Store(tmp_path, 3 * size) as store:
        assert store.claim(A)
        store.release(A)
        assert store.reserve(D, size)
        assert there(tmp_path, A, B, C) == [A, C]


def test_no_more_goes_than_has_to(tmp_path):
    size = filled(tmp_path, A, B, C)
    with Store(tmp_path, 4 * size) as store:
        assert store.reserve(D, size)
        assert there(tmp_path, A, B, C) == [A, B, C]


def test_a_use_counts_though_its_process_never_released_it(tmp_path):
    size = filled(tmp_path, A, B, C)
    with Store(tmp_path, 3 * size) as store:
        assert store.claim(A)
    with Store(tmp_path, 3 * size) as store:
        assert store.reserve(D, size)
        assert there(tmp_path, A, B, C) == [A, C]


def test_a_use_lasts_until_its_release(tmp_path):
    size = filled(tmp_path, A, B, C)
    with Store(tmp_path, 3 * size) as store:
        for name in (A, B, C):
            assert store.claim(name)
        for name in (C, B, A):
            store.release(name)
        assert store.reserve(D, size)
        assert there(tmp_path, A, B, C) == [A, B]


def test_the_order_holds_when_the_clock_is_set_back(tmp_path, monkeypatch):
    size = filled(tmp_path, A, B, C)
    monkeypatch.setattr(time, "time_ns", lambda: 1_000)
    with Store(tmp_path, 3 * size) as store:
        assert store.claim(A)
        store.release(A)
        assert store.reserve(D, size)
        assert there(tmp_path, A, B, C) == [A, C]


def test_what_is_leased_stays_and_what_cannot_fit_drives_nothing_out(tmp_path):
    size = filled(tmp_path, A, B)
    with Store(tmp_path, 2 * size) as store:
        assert store.claim(A)
        assert not store.reserve(C, size + 1)
        assert there(tmp_path, A, B) == [A, B]
        with pytest.raises(ValueError, match="is not leased"):
            store.release(C)
        assert store.reserve(C, size)
        assert there(tmp_path, A, B) == [A]


def test_what_is_promised_counts_until_it_is_written(tmp_path):
    size = filled(tmp_path, A)
    with Store(tmp_path, 3 * size) as store:
        assert store.reserve(B, 2 * size) and store.claim(A)
        assert not store.reserve(C, size)
        put(tmp_path, B, sound(500))
        assert store.reserve(C, size), "it turned out smaller than was promised"


def test_a_promise_ends_with_its_lease(tmp_path):
    size = filled(tmp_path, A)
    with Store(tmp_path, 2 * size) as store:
        assert store.claim(A) and store.reserve(B, size) and not store.reserve(C, size)
        store.release(B)
        assert store.reserve(C, size)


def test_two_leases_of_one_key_are_one_promise(tmp_path):
    with Store(tmp_path, 1000) as store, Store(tmp_path, 1000) as other:
        assert store.reserve(A, 900) and store.reserve(A, 900) and other.reserve(A, 500)
        assert not other.reserve(B, 200)
        with Store(tmp_path, 800) as smaller:
            assert not smaller.reserve(A, 100), "the others may write 900"


def test_reserving_what_is_there_leases_it(tmp_path):
    size = filled(tmp_path, A)
    with Store(tmp_path, size) as store:
        assert store.reserve(A, size) and store.has(A)
        assert not store.reserve(B, size)


def test_half_an_entry_makes_room_for_the_whole_one(tmp_path):
    size = filled(tmp_path, A)
    with Store(tmp_path, size) as store:
        json_path(tmp_path, A).unlink()
        assert not store.claim(A)
        assert store.reserve(A, size)
        assert store.total_bytes() == 0


def test_another_process_keeps_what_it_leases_until_it_is_killed(tmp_path):
    size = filled(tmp_path, A, B)
    holder = child("hold", tmp_path, A)
    assert holder.stdout.readline() == "True\n"
    with Store(tmp_path, 2 * size + 10_000) as store:
        assert not store.reserve(C, 2 * size), "the other's promise of 10 kB counts as well"
        assert store.reserve(C, size)
        assert there(tmp_path, A, B) == [A]
        holder.kill()
        holder.communicate(timeout=30)
        assert store.reserve(D, size + 10_000)
        assert there(tmp_path, A, B) == []


def test_two_processes_use_one_small_store(tmp_path):
    """Each of them looks, at every step, whether what it leases is there and the limit is kept."""
    names = [key(number) for number in range(8)]
    both = [child("use", tmp_path, *names) for _ in range(2)]
    assert [each.communicate(timeout=60)[0] for each in both] == ["done\n"] * 2
    with Store(tmp_path, 40_000) as store:
        assert 0 < store.total_bytes() <= 40_000
        assert list((tmp_path / "leases").glob("*.json")) == [tmp_path / "leases" / f"{store._leases._name}.json"]
    for name in entries(tmp_path):
        open_entry(tmp_path, name)


def test_opening_clears_away_what_the_dead_left_and_not_what_the_living_write(tmp_path):
    filled(tmp_path, A, B)
    wav_path(tmp_path, B).unlink()
    with Store(tmp_path, ROOMY_BYTES) as parent:
        assert parent.reserve(D, 200_000)
        dead, living = (child("write", tmp_path, name) for name in (C, D))
        assert [each.stdout.readline() for each in (dead, living)] == ["written\n"] * 2
        dead.kill()
        dead.communicate(timeout=30)
        (tmp_path / ".uses.json.part-1-0").write_text("{")
        (tmp_path / "leases" / ".1-0.json.part-1-0").write_text("{")
        with Store(tmp_path, ROOMY_BYTES):
            assert [path.parent.name for path in tmp_path.rglob(".*.part-*")] == [D[:2]]
        assert living.communicate("\n", timeout=30)[0] == "committed\n"
        assert parent.has(D) and parent.has(A) and there(tmp_path, B) == []


def test_a_killed_workers_part_goes_with_the_last_lease(tmp_path):
    with Store(tmp_path, ROOMY_BYTES) as store, Store(tmp_path, ROOMY_BYTES) as other:
        assert store.reserve(A, 200_000) and other.reserve(A, 200_000)
        worker = child("write", tmp_path, A)
        assert worker.stdout.readline() == "written\n"
        worker.kill()
        worker.communicate(timeout=30)
        store.release(A)
        assert len(list(tmp_path.rglob(".*.part-*"))) == 1
        other.release(A)
        assert list(tmp_path.rglob(".*.part-*")) == []


def test_a_lower_limit_is_kept_from_the_start(tmp_path):
    size = filled(tmp_path, A, B, C)
    with Store(tmp_path, 2 * size) as store:
        assert there(tmp_path, A, B, C) == [B, C]
        assert store.total_bytes() == 2 * size


def test_a_damaged_entry_is_discarded_and_written_anew_under_the_same_lease(tmp_path):
    filled(tmp_path, A)
    with Store(tmp_path, ROOMY_BYTES) as store:
        assert store.claim(A)
        content = bytearray(wav_path(tmp_path, A).read_bytes())
        content[-1] ^= 1
        wav_path(tmp_path, A).write_bytes(content)
        with pytest.raises(StoreDamaged):
            open_entry(tmp_path, A)
        assert store.discard(A)
        assert not store.has(A)
        assert store.discard(A)
        assert store.reserve(A, 10_000)
        put(tmp_path, A, sound(500))
        assert open_entry(tmp_path, A).file.frames == 500
        store.release(A)
        store.release(A)


def test_a_limit_of_nothing_touches_nothing(tmp_path):
    folder = tmp_path / "store"
    with Store(folder, 0) as store:
        assert not store.has(A) and not store.claim(A) and not store.reserve(A, 0)
        assert store.total_bytes() == store.bytes_of(A) == 0
        assert store.discard(A)
    assert not folder.exists()
    filled(folder, A)
    with Store(folder, 0) as store:
        assert not store.claim(A)
    assert there(folder, A) == [A]


@pytest.mark.parametrize("what", ["wav", "json"])
def test_a_file_in_use_is_passed_over(tmp_path, monkeypatch, what):
    """Windows refuses to remove a file that somebody has open."""
    size = filled(tmp_path, A, B, C)
    unlink = Path.unlink

    def in_use(self, missing_ok=False):
        if self.name == f"{A}.{what}":
            raise PermissionError(13, "in use")
        unlink(self, missing_ok)

    monkeypatch.setattr(Path, "unlink", in_use)
    with Store(tmp_path, 3 * size) as store:
        assert store.reserve(D, size)
        assert B not in there(tmp_path, A, B, C) and C in there(tmp_path, A, B, C)
        assert store.has(A) == (what == "wav"), "the samples go first"
        assert store.claim(C) and not store.reserve(key("e"), 2 * size)


@pytest.mark.parametrize(("in_use", "removed"), [([".wav"], True), ([".json"], True), ([".wav", ".json"], False)])
def test_a_damaged_entry_in_use_is_not_there_any_more_or_it_is_said(tmp_path, monkeypatch, in_use, removed):
    filled(tmp_path, A)
    unlink = Path.unlink

    def refused(self, missing_ok=False):
        if self.suffix in in_use and self.stem == A:
            raise PermissionError(13, "in use")
        unlink(self, missing_ok)

    monkeypatch.setattr(Path, "unlink", refused)
    with Store(tmp_path, ROOMY_BYTES) as store:
        assert store.discard(A) == removed == (not store.has(A))


def test_a_folder_that_cannot_be_made_says_what_to_do(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError) as caught, Store(tmp_path / "file" / "store", ROOMY_BYTES):
        pass
    assert "SWEEPER_STORE" in caught.value.remedy and "--store-limit 0" in caught.value.remedy


@pytest.mark.parametrize("folder", ["leases", "store"])
def test_a_folder_that_cannot_be_written_says_what_to_do_and_leaves_no_lease(tmp_path, monkeypatch, folder):
    replace = Path.replace

    def full(self, target):
        if target.parent.name == folder:
            raise OSError(30, "Read-only file system")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(StoreError, match="Read-only file system") as caught, Store(tmp_path / "store", ROOMY_BYTES):
        pass
    assert "SWEEPER_STORE" in caught.value.remedy
    assert list((tmp_path / "store" / "leases").iterdir()) == []


@pytest.mark.parametrize("method", ["has", "claim", "bytes_of", "discard", "reserve"])
def test_what_is_no_key_is_a_mistake_of_ours(tmp_path, method):
    with Store(tmp_path, ROOMY_BYTES) as store, pytest.raises(ValueError, match="64 hex digits"):
        getattr(store, method)(*("../x", 1)[: 2 if method == "reserve" else 1])
