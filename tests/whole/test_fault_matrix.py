"""Every fault that a plugin can have, at every moment: what the engineer is told, and that everything else is done.

Several faults share a run where they do not touch each other: the alternatives of one stage, among them good ones that
write down how often they were rendered. What is said of each is our own wording: no source but the project's README.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import plugin_builder
import pytest
from whole_runs import Ran, chain_file, mix, sweeper

PATIENCE_S = 3
MEMORY = "600 MB"
SECONDS = 2.0
RATE_HZ = 44100
HUNG = f"gave no sign of life for {PATIENCE_S} s while"
A_DIALOG = "; it may be waiting for an answer in a window of its own"
#: fault -> how a process that has it ends.
DEADLY = {
    "segfault": "crashed with a segmentation fault (SIGSEGV) while",
    "abort": "crashed with an abort (SIGABRT) while",
    "exit0": "ended by itself with exit code 0 while",
    "hang": HUNG,
    "endless": HUNG,
    "memory": "used more than 0.6 GB of memory while",
}
#: What is at fault in the sound alone -> what is said of it.
NO_NUMBERS = {"nan": "gave nan instead of a sample", "inf": "gave inf instead of a sample"}


@dataclass(frozen=True)
class Odd:
    """An alternative of the stage `odd`. says: parts of its row's cause; none = it is rendered."""

    probe: str
    settings: str = ""
    says: tuple[str, ...] = ()

    @property
    def plugin(self) -> str:
        return plugin_builder.title_of(self.probe)

    @property
    def line(self) -> str:
        name = f"{self.probe} {self.settings}".replace(":", "").replace(",", "")
        return f'      - {{name: "{name}", plugin: {self.plugin}, settings: {{{self.settings}}}}}\n'


def setting(fault: str) -> Odd:
    where = f"loading and setting 'odd' (/PLUGINS/Probe {fault.title()} Set.vst3)"
    asks = A_DIALOG if DEADLY[fault] == HUNG else ""
    return Odd(f"{fault}_set", "Amount: 7", (f"{DEADLY[fault]} {where}{asks}",))


def processing(fault: str) -> Odd:
    where = f"rendering at 0:00.0 in 'odd' (Probe {fault.title()} Process)"
    return Odd(f"{fault}_process", "", (f"{DEADLY[fault]} {where}",))


GOOD = (Odd("witness", "Amount: 1"), Odd("witness", "Amount: 2"))
# After 8,192 frames (tests/plugin_builder.py): 0.186 s of a mix at 44.1 kHz.
SPOILING = tuple(
    Odd(f"{fault}_process", "", (f"'odd' (Probe {fault.title()} Process) {says}, channel 1 at 0:00.2",))
    for fault, says in NO_NUMBERS.items()
)
REFUSING = (Odd("refuse_set", "Amount: 7", ("stage 'odd' (Probe Refuse Set): 'Amount'", "7")),)
HARMLESS = (
    Odd("slow_load_within"),
    Odd("noise_process"),
    Odd("chatter_process"),
    Odd("latency_process"),
    Odd("many_settings", "Setting 1999: 50 % travel"),
    Odd("twin_names", "Band (1): -3 dB, Band (2): -6 dB"),
)
CLOSING = tuple(Odd(f"{fault}_close") for fault in DEADLY)


@dataclass(frozen=True)
class Matrix:
    """One run of a chain whose only stage is every one of `odd` in turn."""

    odd: Sequence[Odd]
    ran: Ran
    folder: Path
    plugins: Path
    witness: Path

    @property
    def rows(self) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = self.ran.data["variants"]
        return rows

    @property
    def log(self) -> list[dict[str, Any]]:
        text = (self.folder / self.ran.data["run"] / "log.jsonl").read_text("utf-8")
        return [json.loads(line) for line in text.splitlines()]

    def check(self) -> None:
        """Each row as its probe has it, whatever its neighbours did."""
        assert len(self.rows) == len(self.odd), self.ran.err
        for row, odd in zip(self.rows, self.odd, strict=True):
            if odd.says:
                self._check_failed(row, odd)
            else:
                self._check_done(row, odd)
        assert self.ran.code == (4 if any(odd.says for odd in self.odd) else 0)
        assert self.renders_of_the_witness() == sum(odd.probe == "witness" for odd in self.odd)

    def _check_failed(self, row: dict[str, Any], odd: Odd) -> None:
        assert (row["mix"], row["status"], row["measurements"]) == ("mix.wav", "failed", None), (odd, row)
        cause = row["cause"].replace(str(self.plugins), "/PLUGINS")
        assert [part for part in odd.says if part not in cause] == [], (odd, cause)
        assert list((self.folder / self.ran.data["run"] / "variants" / row["id"]).iterdir()) == []

    def _check_done(self, row: dict[str, Any], odd: Odd) -> None:
        assert row["status"] == "done", (odd, row["cause"])
        assert row["measurements"]["loudness_lufs"] is not None
        for file in row["files"].values():
            assert (self.folder / self.ran.data["run"] / file).is_file(), odd

    def renders_of_the_witness(self) -> int:
        """How many of its instances heard the mix: one block more at most, and no less."""
        heard: dict[tuple[int, int], int] = {}
        for seen in plugin_builder.read_witness(self.witness) if self.witness.exists() else ():
            if seen.event == "run":
                heard[seen.pid, seen.instance] = heard.get((seen.pid, seen.instance), 0) + seen.frames
        frames = round(SECONDS * RATE_HZ)
        return sum(frames <= count <= frames + 16 * 1024 for count in heard.values())

    def row_of(self, probe: str) -> dict[str, Any]:
        return next(row for row, odd in zip(self.rows, self.odd, strict=True) if odd.probe == probe)

    def events(self, probe: str, event: str) -> list[dict[str, Any]]:
        """Of the variant that is rendered with that probe."""
        id = self.row_of(probe)["id"]
        return [e for e in self.log if e["event"] == event and id in (e.get("task"), e.get("variant"))]


def run(folder: Path, plugins: Path, odd: Sequence[Odd], *options: object) -> Matrix:
    mix(folder / "mix.wav", SECONDS, RATE_HZ)
    text = "mixes: [mix.wav]\ninserts:\n  - name: odd\n    any of:\n" + "".join(one.line for one in odd)
    chain, witness = chain_file(folder, text), folder / "witness.txt"
    ran = sweeper("run", chain, "--json", "--workers", 2, "--patience", PATIENCE_S, "--memory-limit", MEMORY, *options,
                  cwd=folder, plugins=plugins, SWEEPER_WITNESS=str(witness), timeout_s=300)  # fmt: skip
    assert ran.code in (0, 4), ran.err
    return Matrix(odd, ran, folder, plugins, witness)


@pytest.fixture(scope="module")
def rendered(probes: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Matrix:
    """Faults while rendering: one of each kind while setting, all of them while processing."""
    odd = [GOOD[0], *map(processing, DEADLY), setting("segfault"), setting("hang"), *SPOILING, *REFUSING, *HARMLESS,
           GOOD[1]]  # fmt: skip
    return run(tmp_path_factory.mktemp("matrix"), probes["gain"].parent, odd)


@pytest.fixture(scope="module")
def closed(probes: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Matrix:
    """Plugins that do it once they are taken down. A hang at that is waited for 10 s: --long has it."""
    odd = [GOOD[0], *(one for one in CLOSING if one.probe not in ("hang_close", "endless_close")), GOOD[1]]
    return run(tmp_path_factory.mktemp("closing"), probes["gain"].parent, odd)


def test_each_fault_is_one_row_and_everything_else_is_rendered_once(rendered):
    rendered.check()


def test_a_worker_that_was_lost_is_back_for_the_next_task(rendered):
    ended = [e for e in rendered.log if e["event"] == "ended"]
    lost = [(n, e) for n, e in enumerate(ended) if e["outcome"] in ("crashed", "ended", "hung", "memory")]
    assert {e["outcome"] for _, e in lost} == {"crashed", "ended", "hung", "memory"}
    assert any(later["worker"] == e["worker"] and later["outcome"] == "done" for n, e in lost for later in ended[n:])


def test_the_log_holds_the_last_lines_of_who_failed(rendered):
    (crash,) = rendered.events("segfault_process", "failed")
    assert len(crash["said"]) == 20
    assert any('vst3.py", line' in line for line in crash["said"]), "where Python stood when the plugin crashed"
    (endless,) = rendered.events("endless_process", "failed")
    assert endless["said"] == ["Probe says the same on stdout, over and over"] * 20
    (dropped,) = rendered.events("endless_process", "dropped")
    assert dropped["lines"] > 10_000


def test_what_is_no_fault_of_the_chain_is_noted_where_it_shows(rendered):
    settings = {a["name"]: a["text"] for a in _sheet(rendered, "twin_names")["stages"][0]["settings"]}
    assert list(settings) == ["Band (1)", "Band (2)"]
    assert rendered.row_of("noise_process")["notes"] == [], "noise that differs is what many plugins add"
    moved = "'odd' (Probe Latency Process): its delay changed during the render, from 0 to 333 frames"
    assert [note for note in rendered.row_of("latency_process")["notes"] if note.startswith(moved)]


def _sheet(matrix: Matrix, probe: str) -> dict[str, Any]:
    sheet: dict[str, Any] = json.loads(
        (matrix.folder / matrix.ran.data["run"] / matrix.row_of(probe)["files"]["recall"]).read_text("utf-8")
    )
    return sheet


@pytest.mark.long
def test_a_plugin_that_dies_while_it_is_taken_down_costs_no_variant(closed):
    closed.check()
    assert closed.ran.code == 0, closed.ran.err
    for fault in ("segfault", "abort", "exit0", "memory"):
        (event,) = closed.events(f"{fault}_close", "closing")
        assert event["what"] == f"{DEADLY[fault]} closing"


LOADING = [*DEADLY, "slow"]


@pytest.fixture(scope="module")
def unloaded(probes: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> tuple[Ran, Path]:
    """A chain with every plugin that cannot be loaded, and a good one."""
    folder = tmp_path_factory.mktemp("loading")
    mix(folder / "mix.wav", SECONDS, RATE_HZ)
    lines = "".join(Odd(f"{fault}_load").line for fault in LOADING)
    text = "mixes: [mix.wav]\ninserts:\n  - name: odd\n    any of:\n" + GOOD[0].line + lines
    ran = sweeper("run", chain_file(folder, text), "--patience", 2.8, "--memory-limit", MEMORY, cwd=folder,
                  plugins=probes["gain"].parent)  # fmt: skip
    return ran, folder


@pytest.mark.parametrize("fault", LOADING)
@pytest.mark.long
def test_a_plugin_that_does_not_load_is_told_at_its_place_before_anything_is_rendered(unloaded, fault):
    ran, folder = unloaded
    assert ran.code == 3
    assert not (folder / "results").exists()
    line = 6 + LOADING.index(fault)
    (told,) = (each for each in ran.err.splitlines() if f"test.chain.yaml:{line}:" in each)
    how = DEADLY.get(fault, HUNG).replace(f"{PATIENCE_S} s", "2.8 s")
    assert f"Probe {fault.title()} Load.vst3 {how} loading 'odd'" in told
    assert (A_DIALOG in told) == (how.startswith("gave no sign")), "what hangs may want an answer"


SAME_PLACE = """
mixes: [mix.wav]
inserts:
  - {name: before, plugin: "builtin:Gain", settings: {gain db: -1 dB}}
  - {name: odd, plugin: Probe Segfault Process}
vary: {odd.bypass: [on, off], before.gain db: [-1 dB, -2 dB, -3 dB, -4 dB, -5 dB]}
"""


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.long
def test_the_same_fault_in_the_same_place_is_not_tried_a_third_time(tmp_path, plugins, workers):
    mix(tmp_path / "mix.wav", SECONDS, RATE_HZ)
    chain = chain_file(tmp_path, SAME_PLACE)
    ran = sweeper("run", chain, "--json", "--workers", workers, cwd=tmp_path, plugins=plugins)
    assert ran.code == 4
    assert [row["status"] for row in ran.data["variants"]] == ["done"] * 5 + ["failed"] * 5
    crashed = f"{DEADLY['segfault']} rendering at 0:00.0 in 'odd' (Probe Segfault Process)"
    assert [row["cause"] for row in ran.data["variants"][5:]] == [crashed] * 5
    log = [json.loads(line) for line in (tmp_path / ran.data["run"] / "log.jsonl").read_text().splitlines()]
    tried = {e["task"] for e in log if e["event"] == "ended" and e["outcome"] == "crashed"}
    spared = [e["task"] for e in log if e["event"] == "not tried" and e["why"] == crashed]
    assert 2 <= len(tried) <= 1 + workers
    assert {*tried, *spared} == {"006", "007", "008", "009", "010"} and not tried & {*spared}


@pytest.mark.long
@pytest.mark.parametrize("odd", [*map(setting, DEADLY), *map(processing, DEADLY), *CLOSING, *SPOILING, *REFUSING,
                                 *HARMLESS], ids=lambda odd: odd.probe)  # fmt: skip
def test_each_fault_by_itself(tmp_path, plugins, odd):
    run(tmp_path, plugins, [GOOD[0], odd, GOOD[1]]).check()
