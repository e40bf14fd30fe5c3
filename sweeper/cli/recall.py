"""`sweeper recall`: a past master made again, and the proof."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, patience_option, quiet_option


@click.command()
@click.argument("sheet", type=click.Path(path_type=Path), metavar="SHEET|FILE")
@click.option("--mix", type=click.Path(path_type=Path), help="Where the mix lies now, if it was moved.")
@click.option("--as-chain", "chain", is_flag=True, help="Render nothing: write the settings as a chain file.")
@click.option("--to", "target", type=click.Path(dir_okay=False, path_type=Path),
              help="The chain file to write. [default: TITLE-VARIANT.chain.yaml, in this folder]")
@click.option("--results", type=click.Path(file_okay=False, path_type=Path), default=Path("results"),
              show_default=True, help="Where sheets are looked for, and where the new render gets its folder.")
@patience_option
@quiet_option
@json_option
def recall(sheet: Path, mix: Path | None, chain: bool, target: Path | None, results: Path, patience_s: float,
           quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Make a past master again from its recall sheet (SHEET), or from any sound file of a run (FILE), and prove it.

    \b
        sweeper recall results/2026-11-24-lantern/variants/004/recall.json
        sweeper recall "from the client.wav"
        sweeper recall "from the client.wav" --as-chain

    The new render is held against the old one, sample for sample. Says what has changed since. Writes a new folder.
    """
    if target is not None and not chain:
        raise click.UsageError("--to names the chain file of --as-chain")
    return _chain(sheet, mix, target, results, patience_s, as_json) if chain else _again(
        sheet, mix, results, patience_s, quiet, as_json)  # fmt: skip


def _chain(sheet: Path, mix: Path | None, target: Path | None, results: Path, patience_s: float,
           as_json: bool) -> int:  # fmt: skip
    from sweeper.cli.answers import print_json
    from sweeper.recall.again import Asked
    from sweeper.recall.as_chain import as_chain, default_target
    from sweeper.recall.find import find

    found = find(sheet, results)
    written = as_chain(found, Asked(results, mix, patience_s), target or default_target(found.sheet))
    if as_json:
        print_json({"schema": 1, "chain_file": str(written), "sheet": str(found.place)})
    else:
        click.echo(f"{written} is written. Edit it, or as it is:\n    sweeper run {written}")
    return 0


def _again(sheet: Path, mix: Path | None, results: Path, patience_s: float, quiet: bool, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_recall import mismatch, show_recall
    from sweeper.recall.again import Asked, again, answer
    from sweeper.recall.find import find

    found = find(sheet, results)
    with working(f"making variant {found.sheet.variant} of {found.sheet.title} again", quiet or as_json):
        made = again(found, Asked(results, mix, patience_s))
    if as_json:
        print_json(answer(made, found))
        return 0 if made.identical else mismatch(made).exit_code
    show_recall(made)
    if not made.identical:
        raise mismatch(made)
    return 0
