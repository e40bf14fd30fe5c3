"""`sweeper measure --plot`: one picture a file, never over another, and what is refused before anything is measured."""

from __future__ import annotations

import json

import click
import pytest
from drawn import parsed, part, words
from full_disk import no_file_over
from whole_runs import mix, sweeper

from sweeper.cli.drawing import SectionType, Stretch, TargetType, draw, places, plot_orders
from sweeper.cli.main import exit_code
from sweeper.errors import RunFolderError
from sweeper.render.plotting import plot_file
from sweeper.workers import Report


def test_a_picture_each_file_with_the_figures_that_are_printed(tmp_path):
    mix(tmp_path / "one.wav", 1.0)
    mix(tmp_path / "two.wav", 1.0, channels=1)
    ran = sweeper("measure", "one.wav", "two.wav", "--plot", "{name} page.svg", "--target", "-14 LUFS", "--section",
                  "end=0:00.5-0:01", "--json", cwd=tmp_path)  # fmt: skip
    assert (ran.code, ran.err) == (0, "")
    for file, name in zip(ran.data["files"], ("one", "two"), strict=True):
        assert file["picture"] == f"{name} page.svg"
        tree = parsed((tmp_path / file["picture"]).read_text("utf-8"))
        assert f"{file['measurements']['loudness_lufs']:.2f}".replace("-", "−") in words(part(tree, "headline"))
        assert "target −14.0 LUFS" in words(tree)
        end_lufs = file["measurements"]["sections"]["end"]["loudness_lufs"]
        assert f"end {end_lufs:.1f} LUFS".replace("-", "−") in words(tree)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--plot", "out.png"], "ends in .svg"), (["--plot", "there.svg"], "there.svg is there already"),
        (["--plot", "gone/out.svg"], "no folder gone"), (["--target", "-14"], "say where with --plot"),
        (["--section", "a=0-1"], "say where with --plot"), (["--plot", "o.svg", "--target", "-14 dB"], "-14 LUFS"),
        (["--plot", "o.svg", "--target", "-99"], "-70 to 10"), (["--plot", "o.svg", "--section", "a=1"], "chorus=0:40"),
        (["--plot", "o.svg", "--section", "a=0-9"], "section 'a' ends at 0:09.0, but one.wav lasts 0:00.5"),
        (["other.wav", "--plot", "o.svg"], "one picture for 2 files"),
        (["one.wav", "--plot", "{name}.svg"], "the picture of two files"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused(tmp_path, monkeypatch, capsys, arguments, told):
    monkeypatch.chdir(tmp_path)
    mix(tmp_path / "one.wav", 0.5)
    (tmp_path / "there.svg").write_text("mine")
    assert exit_code(["measure", "one.wav", *arguments]) == 2
    assert told in capsys.readouterr().err
    assert (tmp_path / "there.svg").read_text() == "mine"
    assert [path.name for path in tmp_path.glob("*.svg")] == ["there.svg"]


def test_no_half_picture_stays_and_one_that_has_come_meanwhile_is_kept(tmp_path):
    orders = plot_orders([mix(tmp_path / "one.wav", 0.5)], [])
    plots = [plot_file(orders[0], Report(lambda message: None))]
    (target,) = places(str(tmp_path / "{name}.svg"), [orders[0].file])
    with no_file_over(8192), pytest.raises(RunFolderError, match="does not take a file this large"):
        list(draw(plots, orders, [target], None))
    assert not list(tmp_path.glob("*svg*"))
    list(draw(plots, orders, [target], None))
    first = target.read_bytes()
    with pytest.raises(RunFolderError, match="there already"):
        list(draw(plots, orders, [target], -14.0))
    assert target.read_bytes() == first
    with pytest.raises(RunFolderError, match="is not there"):
        list(draw(plots, orders, [tmp_path / "gone" / "one.svg"], None))


@pytest.mark.parametrize("as_json", [False, True])
def test_the_figures_are_told_where_a_picture_cannot_be_written(tmp_path, monkeypatch, capsys, as_json):
    monkeypatch.chdir(tmp_path)
    mix(tmp_path / "one.wav", 0.5)
    long = f"{'x' * 250}.svg"
    assert exit_code(["measure", "one.wav", "--plot", long, *(["--json"] if as_json else [])]) == 5
    told = capsys.readouterr()
    assert "the name is too long" in told.err
    assert not list(tmp_path.glob("*svg*"))
    if as_json:
        data = json.loads(told.out)
        assert data["files"][0]["measurements"]["loudness_lufs"] < 0
        assert "picture" not in data["files"][0]
        assert data["error"]["kind"] == "RunFolderError"
    else:
        assert "LUFS" in told.out
        assert "is drawn" not in told.out


def test_sections_and_targets_as_people_write_them(tmp_path):
    section, target = SectionType(), TargetType()
    assert section.convert("a=b=0:40-1:00.5", None, None) == Stretch("a=b", 40.0, 60.5)
    assert section.convert(" bridge = 5 s – 70", None, None) == Stretch("bridge", 5.0, 70.0)
    assert [target.convert(text, None, None) for text in ("-14 LUFS", "−14,5", "-9lufs")] == [-14.0, -14.5, -9.0]
    for text in ("a=2-1", "=0-1", "a=0-1-2", "a", "a=x-1"):
        with pytest.raises(click.BadParameter):
            section.convert(text, None, None)
    (order,) = plot_orders([mix(tmp_path / "a.wav", 2.0)], [Stretch("a", 0.0, 0.5), Stretch("a", 1.0, 1.5)])
    assert order.sections == {"a": ((0, 22050), (44100, 66150))}
