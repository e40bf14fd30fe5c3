"""`sweeper archive`: a run in one file, with everything but the plugins."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, patience_option, quiet_option


@click.command()
@click.argument("run", type=click.Path(path_type=Path), metavar="RUN")
@click.argument("target", type=click.Path(path_type=Path), metavar="OUT.ZIP")
@click.option("--with-renders", is_flag=True, help="Also the renders that the run kept.")
@click.option("--mix", "mixes", type=click.Path(path_type=Path), multiple=True, metavar="FILE",
              help="A mix that is not where it was; again for more.")
@click.option("--prove", is_flag=True,
              help="Recall one variant from the unpacked archive, in a fresh process with an empty store.")
@patience_option
@quiet_option
@json_option
def archive(run: Path, target: Path, with_renders: bool, mixes: tuple[Path, ...], prove: bool, patience_s: float,
            quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Put a run into one file with everything that it takes to make its masters again, but for the plugins.

    \b
        sweeper archive results/2026-11-24-lantern lantern.zip
        sweeper archive results/2026-11-24-lantern lantern.zip --with-renders --prove

    Mixes, references, states, chain file, sheets, table, what came back from outside, notes, lists of prints. It is
    unpacked elsewhere and looked at before it gets its name. Never over an existing file.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_archive import answer, show_archive
    from sweeper.recall.archive import archived
    from sweeper.recall.contents import packed
    from sweeper.recall.proving import proven

    proof = None
    with working("looking for everything", quiet or as_json) as said:
        found = packed(run, mixes, with_renders)
        variant = next(iter(found.contents.renders or found.contents.variants))
        with archived(found, target, said.now) as (made, unpacked):
            if prove:
                said.now(f"recalling variant {variant} from what was unpacked")
                proof = proven(unpacked, variant, patience_s)
    if as_json:
        print_json(answer(found, made, proof))
    else:
        show_archive(found, made, proof)
    return 0
