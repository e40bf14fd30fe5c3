"""`sweeper print`: delivery files of a variant, measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sweeper.cli.options import json_option, patience_option, quiet_option
from sweeper.cli.print_options import CeilingType, IsrcType, PatternType, TimeType

if TYPE_CHECKING:
    from sweeper.chain.print_model import PrintSpec
    from sweeper.delivery.delivering import Asked
    from sweeper.delivery.kept import Kept
    from sweeper.delivery.planned import SolveAgain

#: What `--to` takes to list the specs.
LIST = "list"
EDITS = ("start_s", "end_s", "fade_in_s", "fade_out_s")


@click.command("print")
@click.argument("run", type=click.Path(path_type=Path), required=False)
@click.argument("variant", required=False)
@click.option(
    "--to",
    multiple=True,
    metavar="SPEC",
    help="Which kind of file, e.g. disc, or a spec of your own, MINE.yaml; "
    "'list' shows them all. Again for more. [default: `print: {to: ...}` of the chain file]",
)
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="The folder for the files. [default: a new one in the run's prints/]",
)
@click.option("--title", default=None, help="Goes into the files, and into their names.")
@click.option("--artist", default=None, help="Goes into the files.")
@click.option("--isrc", type=IsrcType(), default=None, help="Goes into the files.")
@click.option(
    "--name",
    "pattern",
    type=PatternType(),
    default=None,
    help='What files are called, e.g. "{artist} - {title} ({spec})". [default: the spec\'s]',
)
@click.option("--start", "start_s", type=TimeType(), default=None, help="Cut off what comes before.")
@click.option("--end", "end_s", type=TimeType(), default=None, help="Cut off what comes after.")
@click.option("--fade-in", "fade_in_s", type=TimeType(), default=None, help='A fade from the start on, e.g. "10 ms".')
@click.option("--fade-out", "fade_out_s", type=TimeType(), default=None, help='A fade up to the end, e.g. "3 s".')
@click.option(
    "--ceiling",
    "ceiling_dbtp",
    type=CeilingType(),
    default=None,
    help="The highest true peak. [default: the spec's, else what the variant was held under]",
)
@click.option(
    "--over",
    type=click.Choice(["trim", "stop", "solve"]),
    default="trim",
    show_default=True,
    help="What to do where conversion lifts a file over its ceiling: turn it down, print nothing, or solve the "
    "variant anew with a lower one.",
)
@click.option(
    "--results",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("results"),
    show_default=True,
    help="Where --over solve gets its run.",
)
@patience_option
@quiet_option
@json_option
def print(
    run: Path | None, variant: str | None, to: tuple[str, ...], results: Path, patience_s: float, quiet: bool,
    as_json: bool, **given: Any,
) -> int:  # fmt: skip
    """Print the delivery files of a VARIANT of a RUN from its kept render, and measure what is in them.

    \b
        sweeper print results/2026-11-24-lantern 004 --to disc --to archive
        sweeper print results/2026-11-24-lantern 004 --title "Lantern Bay" --fade-out "3 s"
        sweeper print --to list

    Rate conversion, then trims and fades, then the ceiling, then dither, then word length. Never over an existing file.
    """
    if LIST in to:
        if run is not None or to != (LIST,):
            raise click.UsageError("--to list shows the specs and prints nothing: leave out the rest")
        return _list(as_json)
    if run is None or variant is None:
        raise click.UsageError("name a run's folder and the number of a variant, e.g. results/2026-11-24-lantern 004")
    from sweeper.delivery.kept import find_kept

    kept = find_kept(run, variant)
    return _deliver(kept, _asked(kept, to, given, _solver(results, patience_s)), quiet, as_json)


def _asked(kept: Kept, to: tuple[str, ...], given: Mapping[str, Any], solve: SolveAgain) -> Asked:
    """What is asked for: by the options, else by the chain file."""
    from sweeper.audio.labels import Labels
    from sweeper.chain.print_model import Edits
    from sweeper.delivery.ceiling import Over
    from sweeper.delivery.delivering import Asked
    from sweeper.delivery.kept import Ceiling, ceiling_of

    own, edits, ceiling_dbtp = kept.wishes, kept.wishes.edits, given["ceiling_dbtp"]
    specs = _specs(to, own.to)
    if ceiling_dbtp is not None:
        specs = tuple(replace(spec, ceiling_dbtp=None) for spec in specs)
    return Asked(
        specs=specs,
        labels=Labels("", _told(given["title"], own.title), _told(given["artist"], own.artist),
                      _told(given["isrc"], own.isrc)),
        name=kept.sheet.title,
        edits=Edits(*(_else(given[key], getattr(edits, key)) for key in EDITS)),
        ceiling=ceiling_of(kept) if ceiling_dbtp is None else Ceiling(ceiling_dbtp, "--ceiling"),
        over=Over(given["over"]),
        out=given["out"],
        pattern=given["pattern"],
        now=datetime.now().replace(microsecond=0),
        solve=solve,
    )


def _else(given: float | None, own: Any) -> Any:
    return own if given is None else given


def _told(given: str | None, own: str) -> str:
    return own if given is None else given.strip()


def _specs(to: tuple[str, ...], own: tuple[PrintSpec, ...]) -> tuple[PrintSpec, ...]:
    """The specs asked for, each once; else those of the chain file. Raises UsageError for none, or an unknown name."""
    from sweeper.chain.print_specs import find_spec
    from sweeper.errors import ChainFileError

    if not to and not own:
        raise click.UsageError("say what to print with --to, e.g. --to disc; --to list shows what there is")
    found: dict[str, PrintSpec] = {}
    for written in to:
        try:
            spec = find_spec(written, Path())
        except ChainFileError as exc:
            if exc.problems[0].file:
                raise
            raise click.UsageError(f"{exc.problems[0].what}; {exc.problems[0].remedy}") from exc
        found[spec.name] = spec
    return tuple(found.values()) or own


def _solver(results: Path, patience_s: float) -> SolveAgain:
    """Makes a variant anew with a lower ceiling, by a run of its own."""

    def solve(kept: Kept, ceiling_dbtp: float) -> Kept:
        from sweeper.delivery.kept import find_kept
        from sweeper.delivery.solving import solved_chain
        from sweeper.pipeline import Options
        from sweeper.pipeline import run as run_chain

        chain_file = solved_chain(kept, ceiling_dbtp, results, None)
        finished = run_chain(chain_file, Options(results=results, workers=1, patience_s=patience_s))
        return find_kept(finished.folder, finished.rows[0].id)

    return solve


def _deliver(kept: Kept, asked: Asked, quiet: bool, as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_printed import show_printed
    from sweeper.delivery.delivering import deliver
    from sweeper.workers import Pool

    with working(f"printing variant {kept.id}", quiet or as_json), Pool(min(len(asked.specs), 2)) as pool:
        delivery = deliver(kept, asked, pool)
    if as_json:
        print_json(delivery.data)
    else:
        show_printed(delivery)
    return 0


def _list(as_json: bool) -> int:
    from sweeper.chain.print_specs import find_spec, spec_names
    from sweeper.cli.answers import print_json
    from sweeper.cli.show_printed import show_specs
    from sweeper.delivery.manifest import spec_data

    specs = [find_spec(name, Path()) for name in spec_names()]
    if as_json:
        print_json({"schema": 1, "specs": [spec_data(spec) for spec in specs]})
    else:
        show_specs(specs)
    return 0
