"""`sweeper recall`: a past master made again, and the proof; a revision of it; its sheet as a page or a chain file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.options import json_option, patience_option, quiet_option

if TYPE_CHECKING:
    from sweeper.recall.asked import Asked
    from sweeper.recall.find import Found
    from sweeper.recall.since import Since


@click.command()
@click.argument("sheet", type=click.Path(path_type=Path), metavar="SHEET|FILE", required=False)
@click.option("--change", metavar="WORDS",
              help='A revision: "loudness -0.5 LU", solved anew, everything else as it was.')
@click.option("--by", metavar="SETTING", help="With --change, what is turned: drive, ceiling, or STAGE.SETTING.")
@click.option("--all", "folder", type=click.Path(file_okay=False, path_type=Path), metavar="FOLDER",
              help="Make every master in a folder again and list which come back. Keeps no file.")
@click.option("--picked", is_flag=True, help="With --all: only those that were picked to keep in an audition.")
@click.option("--page", type=click.Path(dir_okay=False, path_type=Path), metavar="OUT.HTML",
              help="Render nothing: write the recall sheet for people, one page to print.")
@click.option("--as-chain", "chain", is_flag=True, help="Render nothing: write the settings as a chain file.")
@click.option("--to", "target", type=click.Path(dir_okay=False, path_type=Path),
              help="The chain file to write. [default: TITLE-VARIANT.chain.yaml, in this folder]")
@click.option("--mix", type=click.Path(path_type=Path), help="Where the mix lies now, if it was moved.")
@click.option("--results", type=click.Path(file_okay=False, path_type=Path), default=Path("results"),
              show_default=True, help="Where sheets are looked for, and where the new render gets its folder.")
@click.option("--look-in", "also", type=click.Path(file_okay=False, path_type=Path), multiple=True, metavar="FOLDER",
              help="Another results folder, run or unpacked archive to look for sheets in; again for more.")
@patience_option
@quiet_option
@json_option
def recall(sheet: Path | None, change: str | None, by: str | None, folder: Path | None, picked: bool,
           page: Path | None, chain: bool, target: Path | None, mix: Path | None, results: Path,
           also: tuple[Path, ...], patience_s: float, quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Make a past master again from its recall sheet (SHEET), or from any sound file of a run (FILE), and prove it.

    \b
        sweeper recall results/2026-11-24-lantern/variants/004
        sweeper recall "from the client.wav"
        sweeper recall "from the client.wav" --change "loudness -0.5 LU" --by drive
        sweeper recall --all results
        sweeper recall results/2026-11-24-lantern/variants/004 --page lantern-004.html

    Says what has changed since, then renders into a new folder, and holds the result against the old one, sample for
    sample and stage by stage.
    """
    _refuse_contradictions(sheet, change, by, folder, picked, page, chain, target, mix)
    from sweeper.recall.asked import Asked
    from sweeper.recall.find import find

    asked = Asked(results, mix, patience_s)
    if folder is not None:
        return _all(folder, picked, asked, quiet, as_json)
    assert sheet is not None
    found = find(sheet, results, also)
    if page is not None:
        return _page(found, page, as_json)
    if chain:
        return _chain(found, asked, target, as_json)
    if change is not None and by is not None:
        return _revised(found, asked, change, by, quiet, as_json)
    return _again(found, asked, quiet, as_json)


def _refuse_contradictions(sheet: Path | None, change: str | None, by: str | None, folder: Path | None, picked: bool,
                           page: Path | None, chain: bool, target: Path | None, mix: Path | None) -> None:  # fmt: skip
    """Raises UsageError for options that do not belong together."""
    if (sheet is None) == (folder is None):
        raise click.UsageError("name one SHEET|FILE, or a folder with --all")
    asked = [name for name, given in (("--all", folder), ("--change", change), ("--page", page), ("--as-chain", chain))
             if given]  # fmt: skip
    if len(asked) > 1:
        raise click.UsageError(f"{asked[0]} and {asked[1]} are two things: ask for one")
    if target is not None and not chain:
        raise click.UsageError("--to names the chain file of --as-chain")
    if (change is None) != (by is None):
        raise click.UsageError('--change and --by belong together: --change "loudness -0.5 LU" --by drive')
    if picked and folder is None:
        raise click.UsageError("--picked chooses among the masters of --all")
    if folder is not None and mix is not None:
        raise click.UsageError("--mix is the mix of one master; --all takes mixes where they were")


def _page(found: Found, target: Path, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.recall.page import write_page

    write_page(found, target)
    if as_json:
        print_json({"schema": 1, "page": str(target), "sheet": str(found.place)})
    else:
        click.echo(f"{target} is written: open it in a browser, and print it from there")
    return 0


def _chain(found: Found, asked: Asked, target: Path | None, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.recall.as_chain import as_chain, default_target

    written = as_chain(found, asked, target or default_target(found.sheet))
    if as_json:
        print_json({"schema": 1, "chain_file": str(written), "sheet": str(found.place)})
    else:
        click.echo(f"{written} is written. Edit it, or as it is:\n    sweeper run {written}")
    return 0


def _again(found: Found, asked: Asked, quiet: bool, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_recall import mismatch, show_recall, show_since
    from sweeper.recall.again import again, answer

    told: list[Since] = []
    with working(f"making variant {found.sheet.variant} of {found.sheet.title} again", quiet or as_json) as said:

        def tell(since: Since) -> None:
            told.append(since)
            with said.aside():
                if not as_json:
                    show_since(found, since)

        made = again(found, replace(asked, told=tell))
    if as_json:
        print_json(answer(made, found))
        return 0 if made.verdict.came_back else mismatch(made).exit_code
    show_recall(made, told[0])
    if not made.verdict.came_back:
        raise mismatch(made)
    return 0


def _revised(found: Found, asked: Asked, words: str, by: str, quiet: bool, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_recall import show_since
    from sweeper.cli.show_revision import on_target, show_revision
    from sweeper.recall.change import read_change
    from sweeper.recall.revise import answer, revised

    change = read_change(words)
    with working(f"changing variant {found.sheet.variant} of {found.sheet.title}", quiet or as_json) as said:

        def tell(since: Since) -> None:
            with said.aside():
                if not as_json:
                    show_since(found, since)

        made = revised(found, replace(asked, told=tell), change, by)
    if as_json:
        print_json(answer(made))
    else:
        show_revision(made)
    return 0 if on_target(made) else 1


def _all(folder: Path, picked: bool, asked: Asked, quiet: bool, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_every import show_every
    from sweeper.recall.every import every, exit_code, masters

    places = masters(folder, picked)
    with working(f"making {len(places)} masters again", quiet or as_json) as said:
        lines = every(places, replace(asked, results=folder), lambda n, place: said.now(
            f"{n} of {len(places)}: {place.parent.name} of {place.parents[2].name}"))  # fmt: skip
    if as_json:
        print_json({"schema": 1, "folder": str(folder), "masters": [line.as_data() for line in lines]})
    else:
        show_every(lines)
    return exit_code(lines)
