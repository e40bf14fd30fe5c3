"""What a run leaves: the states it was made with, and listening copies, each with its own gain."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path

from sweeper.audio import AudioFormat, SoundFile
from sweeper.chain import load_chain
from sweeper.quantities import Measurements
from sweeper.render.folder import RunFolder
from sweeper.render.orders import Measured
from sweeper.table.outcome import Ledger, copies
from sweeper.table.row import Row

NOW = datetime(2026, 11, 24, 18, 5, 9)


def row(id: str, gain_db: float | None, status: str = "done") -> Row:
    files = {"render": f"variants/{id}/render.wav", "matched": f"variants/{id}/matched.wav"}
    return Row(id, "a.wav", status, "", {}, match_gain_db=gain_db, files=files)


def mix(name: str) -> Measured:
    return Measured(SoundFile(Path(name), AudioFormat(2, 44100), 100, "WAV", "PCM_24"), Measurements({}), "")


def test_every_finished_variant_and_every_mix_gets_its_own_gain(tmp_path):
    folder = RunFolder.create(tmp_path, "test", NOW)
    rows = [row("001", -3.5), row("002", None), row("003", None, "failed"), row("004", 0.0)]
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


def test_every_state_file_is_kept_with_the_run_under_its_hash(tmp_path):
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "glue.vstpreset").write_bytes(b"VST3 and so on")
    (tmp_path / "c.yaml").write_text(
        "mix: mix.wav\ninserts: [{name: a, plugin: A, state: glue.vstpreset}, {name: b, plugin: B}]\n"
    )
    folder = RunFolder.create(tmp_path / "results", "test", NOW)
    Ledger(load_chain(tmp_path / "c.yaml"), folder, (), (), (), NOW).write_asked()
    (kept,) = (folder.path / "states").iterdir()
    assert kept.read_bytes() == b"VST3 and so on"
    assert kept.name == hashlib.sha256(b"VST3 and so on").hexdigest() + ".vstpreset"
