"""Which variants keep their sound; and the listening copies, each with its own gain."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from sweeper.audio import AudioFormat, SoundFile
from sweeper.quantities import Measurements
from sweeper.render.folder import RunFolder
from sweeper.render.orders import Measured
from sweeper.table.begun import NOT_KEPT_NAME
from sweeper.table.copies import copies, thin
from sweeper.table.row import Row

NOW = datetime(2026, 11, 24, 18, 5, 9)


def row(id: str, gain_db: float | None, status: str = "done", kept: bool = True) -> Row:
    files = {"render": f"variants/{id}/render.wav", "matched": f"variants/{id}/matched.wav"}
    return Row(id, "a.wav", status, "", {}, match_gain_db=gain_db, files=files, kept=kept)


def mix(name: str) -> Measured:
    return Measured(SoundFile(Path(name), AudioFormat(2, 44100), 100, "WAV", "PCM_24"), Measurements({}), "")


def test_every_finished_variant_and_every_mix_gets_its_own_gain(tmp_path):
    folder = RunFolder.create(tmp_path, "test", NOW)
    for name in ("001", "004", "005"):
        folder.variant(name)
        (folder.path / "variants" / name / "render.wav").write_bytes(b"")
    rows = [row("001", -3.5), row("002", None), row("003", None, "failed"), row("004", 0.0),
            row("005", -2.0, kept=False), row("006", -2.0)]
    found = copies(folder, rows, [mix("a.wav"), mix("b.wav"), mix("silence.wav")], [-1.25, 0.0, None], NOW)
    assert [(one.source.name, str(one.target.relative_to(folder.path.absolute())), one.gain_db) for one in found] == [
        ("render.wav", str(Path("variants/001/matched.wav")), -3.5),
        ("render.wav", str(Path("variants/004/matched.wav")), 0.0),
        ("a.wav", str(Path("mixes/1-matched.wav")), -1.25),
        ("b.wav", str(Path("mixes/2-matched.wav")), 0.0),
    ]
    assert [one.source.parent.name for one in found[:2]] == ["001", "004"]
    references = [one.tag.reference for one in found if one.tag]
    assert len(set(references)) == 2, "a mix has an id of its own; a variant's copy keeps that of its render"


def test_copies_of_an_earlier_time_make_room_for_new_ones(tmp_path):
    folder = RunFolder.create(tmp_path, "test", NOW)
    place = folder.variant("001")
    (place / "render.wav").write_bytes(b"")
    (place / "matched.wav").write_bytes(b"at an earlier level")
    copies(folder, [row("001", -1.0)], [], [], NOW)
    assert not (place / "matched.wav").exists()
    assert (place / "render.wav").exists()


def test_what_is_not_kept_leaves_its_sheet_and_a_note(tmp_path):
    folder = RunFolder.create(tmp_path, "test", NOW)
    for name in ("001", "002"):
        for file in ("render.wav", "matched.wav", "recall.json"):
            (folder.variant(name) / file).write_bytes(b"")
    thin(folder, [row("001", 0.0), row("002", 0.0, kept=False)])
    assert sorted(p.name for p in (folder.path / "variants" / "001").iterdir()) == [
        "matched.wav", "recall.json", "render.wav"]  # fmt: skip
    assert sorted(p.name for p in (folder.path / "variants" / "002").iterdir()) == [NOT_KEPT_NAME, "recall.json"]
