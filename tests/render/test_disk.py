"""What a run needs is never less than the files that it makes; a disk too small is refused beforehand."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from planning import FACTS, grid

from sweeper.audio import AudioFormat, SoundFile
from sweeper.chain import load_chain
from sweeper.errors import RunFolderError
from sweeper.plan.planned import planned
from sweeper.plan.storing import Costs
from sweeper.plan.tree import tree
from sweeper.quantities import Measurements
from sweeper.render import disk
from sweeper.render.disk import MARGIN_BYTES, Need, need, refuse_what_cannot_fit
from sweeper.render.orders import Measured

FRAMES = 100_000
GB = 1_000_000_000
#: No disk that anybody's folders are on.
APART = Path("/proc/store")


def mixes(*channels: int) -> list[Measured]:
    return [Measured(SoundFile(Path("a.wav"), AudioFormat(n, 44100), FRAMES, "WAV", "FLOAT"), Measurements({}), "")
            for n in channels]  # fmt: skip


def chain(folder: Path, keep: str = ""):
    (folder / "a.wav").write_bytes(b"")
    (folder / "c.yaml").write_text(
        f"mix: a.wav\ninserts: [{{name: a, plugin: 'builtin:Gain'}}]\nprefer: [crest highest]\n{keep}")
    return load_chain(folder / "c.yaml")  # fmt: skip


def plan(found, store_s: float = 1.0, size: int = 12345):
    grown = tree(found, FACTS)
    costs = Costs(dict.fromkeys(grown.steps, 9.0), {0: store_s, 1: store_s}, {0: size, 1: size})
    return planned(found, found, grown, costs, frozenset(), 10**12, 2)


def needed(folder: Path, count: int, keep: str = "", channels: int = 2, room: int = GB) -> Need:
    """What a run of `count` variants needs."""
    found = grid([1, count])
    return need(chain(folder, keep), plan(found), mixes(channels), found, room)


def a_float_file(folder: Path, channels: int) -> int:
    """What libsndfile makes of as many frames."""
    soundfile.write(folder / "one.wav", np.zeros((FRAMES, channels)), 44100, subtype="FLOAT")
    return (folder / "one.wav").stat().st_size


def test_room_for_every_render_a_copy_of_each_and_one_of_the_mix(tmp_path):
    one = a_float_file(tmp_path, 2)
    assert 7 * one <= needed(tmp_path, 3).results <= 7 * (one + 20_000)


def test_copies_are_made_of_those_that_are_kept_only(tmp_path):
    one = a_float_file(tmp_path, 2)
    two = needed(tmp_path, 3, "audition: {keep: 2}").results
    assert 6 * one <= two <= 6 * (one + 20_000)
    assert needed(tmp_path, 3, "audition: {keep: 50}") == needed(tmp_path, 3)


def test_a_mono_mix_takes_half(tmp_path):
    stereo, mono = (needed(tmp_path, 1, channels=n).results for n in (2, 1))
    assert stereo - mono == 3 * FRAMES * 4


def test_steps_may_fill_the_store_up_to_its_limit_and_no_further(tmp_path):
    assert needed(tmp_path, 3).store == 12345, "one step that all three start from"
    assert needed(tmp_path, 3, room=100).store == 100
    assert needed(tmp_path, 3, room=-5).store == 0


def test_a_run_that_goes_on_needs_copies_of_finished_variants_too_and_those_there_make_room(tmp_path):
    one, all_three = a_float_file(tmp_path, 2), grid([1, 3])
    left = need(chain(tmp_path), plan(all_three[2:]), mixes(2), all_three, 0)
    assert 5 * one <= left.results <= 5 * (one + 20_000), "a render, three copies and that of the mix"
    for place in ("variants/001", "mixes"):
        (tmp_path / "run" / place).mkdir(parents=True)
    (tmp_path / "run/variants/001/matched.wav").write_bytes(bytes(one))
    (tmp_path / "run/mixes/1-matched.wav").write_bytes(bytes(one))
    gone_on = need(chain(tmp_path), plan(all_three[2:]), mixes(2), all_three, 0, tmp_path / "run")
    assert left.results - gone_on.results == 2 * one


@pytest.fixture
def free(monkeypatch):
    """Says how many bytes every disk has left."""
    def made(count: int) -> None:
        monkeypatch.setattr(disk.shutil, "disk_usage", lambda path: SimpleNamespace(free=count))

    return made


def refused(wanted: Need, results: Path, store: Path) -> bool:
    try:
        refuse_what_cannot_fit(wanted, results, store)
    except RunFolderError:
        return True
    return False


def test_the_store_counts_where_it_is_on_the_same_disk(tmp_path, free):
    wanted = Need(5 * GB, 2 * GB)
    free(7 * GB + MARGIN_BYTES)
    assert not refused(wanted, tmp_path / "results", tmp_path / "store")
    free(7 * GB + MARGIN_BYTES - 1)
    assert refused(wanted, tmp_path / "results", tmp_path / "store")
    assert not refused(wanted, tmp_path / "results", APART)
    free(5 * GB + MARGIN_BYTES - 1)
    assert refused(wanted, tmp_path / "results", APART)


def test_the_refusal_says_how_much_is_missing_where_and_what_helps(tmp_path, free):
    free(900_000_000)
    with pytest.raises(RunFolderError) as told:
        refuse_what_cannot_fit(Need(2_480_000_000, 0), tmp_path / "not" / "yet" / "there", tmp_path)
    assert told.value.what == f"this run needs 2.5 GB on the disk with {tmp_path}, and 900 MB are free"
    assert "keep" in told.value.remedy
    assert "--store-limit" in told.value.remedy


def test_an_exploration_holds_every_render_until_it_is_chosen_from_them(tmp_path):
    one = a_float_file(tmp_path, 2)
    explored = "audition: {keep: 2}\nvary: {a.gain db: [1, 2]}\nexplore: {variants: 60}"
    found = needed(tmp_path, 60, explored).results
    assert 63 * one <= found <= 63 * (one + 4096) + 70 * 20_000, "all of them, two copies and that of the mix"
    assert needed(tmp_path, 5, explored) == needed(tmp_path, 5, "audition: {keep: 2}")
