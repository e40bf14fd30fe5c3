"""`audition`, `shortlist --picks` and `report` as they are typed."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import heard_runs
import pytest

from sweeper.cli.main import exit_code

PROGRAM = str(Path(__file__).with_name("audition_program.py"))


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    return heard_runs.made_run(tmp_path_factory.mktemp("typed"))


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return heard_runs.page(tmp_path_factory.mktemp("page") / "page")


def asked(capsys, *arguments):
    code = exit_code([str(word) for word in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def fetched(address: str, document: object = None) -> dict[str, object]:
    headers = {"Origin": address.rsplit("/", 2)[0], "Content-Type": "application/json"} if document else {}
    body = json.dumps(document).encode() if document else None
    request = urllib.request.Request(f"{address}notes", body, headers, method="PUT" if document else "GET")
    with urllib.request.urlopen(request, timeout=20) as answer:
        return json.loads(answer.read())


def test_it_serves_saves_what_is_decided_and_ctrl_c_ends_it_cleanly(run, page):
    with subprocess.Popen([sys.executable, PROGRAM, str(page), "audition", str(run), "--no-browser", "--workers", "1"],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as served:  # fmt: skip
        lines = []
        while not lines or not lines[-1].startswith("http"):
            lines.append(served.stdout.readline())
            assert lines[-1], served.stderr.read()
        address = lines[-1].strip()
        document = fetched(address)
        document["picks"] = {"002": {"verdict": "keep", "notes": [{"at_s": 1.5, "text": "this one"}]}}
        assert fetched(address, document) == {"revision": 1}
        served.send_signal(signal.SIGINT)
        rest, errors = served.communicate(timeout=20)
    assert served.returncode == 0
    assert errors == ""
    assert "3 variants, 1 mix, 1 reference, up to 0:04.0; 7 MB of sound; matched over the whole" in lines[0]
    assert any("monitors turned down" in line for line in lines), "said before the address is there"
    assert "keep: 002" in rest
    assert json.loads((run / "audition/notes.json").read_text())["picks"]["002"]["verdict"] == "keep"


@pytest.mark.long
def test_json_says_where_it_is_before_it_serves(run, page):
    with subprocess.Popen([sys.executable, PROGRAM, str(page), "audition", str(run), "002", "--no-browser", "--json"],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as served:  # fmt: skip
        text = ""
        while True:
            text += served.stdout.readline()
            try:
                data = json.loads(text)
                break
            except ValueError:
                assert served.poll() is None, served.stderr.read()
        assert data["schema"] == 1
        assert [one["id"] for one in data["sounds"]] == ["002", "mix-1", "reference-1-1"]
        assert fetched(data["address"])["schema"] == 1
        served.send_signal(signal.SIGINT)
        assert served.communicate(timeout=20)[0] == "", "one object"
    assert served.returncode == 0


def test_files_are_written_and_said_without_giving_them_away(run, tmp_path, capsys):
    code, out, err = asked(capsys, "audition", run, 1, 2, "--files", tmp_path / "blind", "--workers", 1)
    assert (code, err) == (0, "")
    assert "4 files" in out
    assert "002" not in out.replace(str(run), "")
    assert "blind.key.json" in out
    assert asked(capsys, "audition", run, "--files", tmp_path / "blind")[0] == 5, "never over another folder"


def test_a_folder_is_exported_and_the_way_back_is_said(run, page, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("sweeper.audition.assembled.PAGE", page)
    code, out, _ = asked(capsys, "audition", run, "--export", tmp_path / "band", "--workers", 1)
    assert code == 0
    assert "audition.html" in out
    assert "--picks FILE" in out
    assert (tmp_path / "band/audition.html").is_file()


@pytest.mark.parametrize(("options", "what"), [
    (["--export", "a", "--files", "b"], "one at a time"), (["--export", "a", "--port", "8000"], "for serving"),
    (["--files", "a", "--no-browser"], "for serving"), (["--with-settings"], "belongs to --export"),
    (["--seed", "3"], "belongs to --files"),
])  # fmt: skip
def test_options_that_say_two_things_are_refused(run, capsys, options, what):
    code, out, err = asked(capsys, "audition", run, *options)
    assert (code, out) == (2, "")
    assert what in err


def test_a_variant_that_is_not_there_is_an_error_for_people_and_for_machines(run, capsys):
    code, out, err = asked(capsys, "audition", run, "009", "--json")
    assert code == 5
    assert json.loads(out)["error"]["what"].endswith("has no variant '009'")
    assert "it has 001, 002, 003" in err


def test_picks_are_taken_in_and_shown(run, tmp_path, capsys):
    own = heard_runs.copied(run, tmp_path)
    from sweeper.audition.heard import identity
    from sweeper.table.written import read_ledger

    path, ledger = read_ledger(own)
    picks = {"003": {"verdict": "keep", "notes": [{"at_s": 2.0, "text": "wider"}]}, "001": {"verdict": "drop"},
             "mix-1": {"verdict": "keep", "notes": []}}  # fmt: skip
    trials = [{"a": "003", "b": "001", "right": 10, "of": 12}]
    file = tmp_path / "tin-boats.picks.json"
    file.write_text(json.dumps({"schema": 1, "run": identity(ledger, path), "picks": picks, "trials": trials,
                                "ranking": {"1": {"order": ["003", "001"]}}}))
    code, out, _ = asked(capsys, "shortlist", own, "--picks", file)
    assert code == 0
    for said in ("taken in: 2 new verdicts, mix-1 rated, another ranking of mix 1, 1 new notes, 1 forced choices",
                 "003 keep", "by ear, keep: 003",
                 "003: 0:02.0 wider", "the untouched mix (mix-1): rated keep with names hidden, which is no pick",
                 "003 or 001: 10 of 12 right; guessing does as well 1.9 % of the time"):  # fmt: skip
        assert said in out
    code, out, _ = asked(capsys, "shortlist", own, "--json")
    data = json.loads(out)
    assert data["picked_by_ear"]["picks"]["003"] == {"verdict": "keep", "notes": [{"at_s": 2.0, "text": "wider"}]}
    assert data["picked_by_ear"]["rated"] == {"mix-1": {"verdict": "keep", "notes": []}}
    assert data["picked_by_ear"]["trials"][0]["guessing_probability"] == pytest.approx(79 / 4096)
    assert "taken_in" not in data


def test_a_shortlist_that_nobody_listened_to_says_nothing_of_it(run, tmp_path, capsys):
    own = heard_runs.copied(run, tmp_path)
    _, out, _ = asked(capsys, "shortlist", own)
    assert "by ear" not in out
    assert json.loads(asked(capsys, "shortlist", own, "--json")[1])["picked_by_ear"] is None


@pytest.mark.long
def test_reports_are_numbered_and_a_clients_has_its_own_name(run, tmp_path, capsys):
    own = heard_runs.copied(run, tmp_path)
    (own / "report.html").write_text("an earlier one")
    code, out, _ = asked(capsys, "report", own, "--workers", 1)
    assert code == 0
    assert "report-2.html" in out
    assert (own / "report.html").read_text() == "an earlier one"
    code, out, _ = asked(capsys, "report", own, "--for", "client", "--json", "--workers", 1)
    assert json.loads(out)["file"].endswith("report-for-client.html")
    assert asked(capsys, "report", own, "--to", own / "report.html")[0] == 5
