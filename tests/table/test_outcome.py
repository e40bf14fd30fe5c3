"""What a run leaves: the states it was made with, and listening copies, each with its own gain."""

from __future__ import annotations

import hashlib
from datetime import datetime

from invented_rows import failed, measured, row

from sweeper.chain import load_chain
from sweeper.plan.tree import Facts
from sweeper.plan.variants import Variant
from sweeper.render.executor import Tally
from sweeper.render.folder import RunFolder
from sweeper.table.outcome import Ledger, spared_warnings
from sweeper.table.row import OnExcerpts, Row

NOW = datetime(2026, 11, 24, 18, 5, 9)


def test_every_state_file_is_kept_with_the_run_under_its_hash(tmp_path):
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "glue.vstpreset").write_bytes(b"VST3 and so on")
    (tmp_path / "c.yaml").write_text(
        "mix: mix.wav\ninserts: [{name: a, plugin: A, state: glue.vstpreset}, {name: b, plugin: B}]\n"
    )
    folder = RunFolder.create(tmp_path / "results", "test", NOW)
    Ledger(load_chain(tmp_path / "c.yaml"), folder, (), Facts((), {}, {}, 1024, 1), (), (), NOW).write_asked((), None)
    (kept,) = (folder.path / "states").iterdir()
    assert kept.read_bytes() == b"VST3 and so on"
    assert kept.name == hashlib.sha256(b"VST3 and so on").hexdigest() + ".vstpreset"


def test_a_run_that_is_stopped_while_it_tries_says_what_it_has(tmp_path):
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text("mix: mix.wav\noutput: {name: limiter, plugin: Brick}\n")
    folder = RunFolder.create(tmp_path / "results", "test", NOW)
    found = [Variant(f"{n:02d}", 0, {}, ()) for n in range(12)]
    facts = Facts(("mix",), {}, {}, 1024, 1)
    ledger = Ledger(load_chain(tmp_path / "c.yaml"), folder, found, facts, (), (), NOW)
    heard = OnExcerpts(measured(), (), (), 0.5)
    rows = [row("01", measured(), on_excerpts=heard), failed("02"),
            *(Row(id, "mix.wav", "tried", "", {}, on_excerpts=heard) for id in ("03", "04"))]  # fmt: skip
    assert ledger.interrupted(rows).what == (
        f"stopped: 3 of 12 variants are tried on excerpts, 1 rendered and kept in {folder.path}")  # fmt: skip
    assert ledger.interrupted(rows[1:2]).what == f"stopped: 0 of 12 variants are finished and kept in {folder.path}"


def test_rows_that_failed_without_a_try_are_told_of():
    assert spared_warnings(Tally()) == ()
    assert spared_warnings(Tally(spared=1))[0].startswith("1 variant was not tried: ")
    assert spared_warnings(Tally(spared=12))[0].startswith("12 variants were not tried: ")
