"""`sweeper effects`: what each varied setting of a run does to what was measured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.options import json_option

if TYPE_CHECKING:
    from sweeper.errors import SweeperError
    from sweeper.table.effects import Effects
    from sweeper.table.written import WrittenRun


@click.command()
@click.argument("run_folder", type=click.Path(path_type=Path), metavar="RUN")
@click.option("--measure", "names", multiple=True, metavar="NAME",
              help="Tell this measurement or solved setting instead of the usual ones; may be given several times.")
@click.option("--plot", "pattern", metavar="OUT.SVG", help="Draw it on one page; never over an existing file.")
@json_option
def effects(run_folder: Path, names: tuple[str, ...], pattern: str | None, as_json: bool) -> int:
    """Say what each varied setting of RUN does to each measurement, and how sure that is. Renders nothing.

    \b
        sweeper effects results/2026-11-25-lantern-bay
        sweeper effects results/2026-11-25-lantern-bay --measure crest --measure limiter.drive --plot effects.svg

    Each change is the mean over everything else that was varied, with a 95 % interval. Renders repeat, so that the
    interval is no noise: it says how much a change differs with what else was varied.
    """
    from sweeper.cli.drawing import places
    from sweeper.table.effects import effects as find
    from sweeper.table.written import read_run

    place = places(pattern, [Path("effects.svg")])[0] if pattern is not None else None
    run = read_run(run_folder)
    _refuse_unknown(run, names)
    found = find(run, names)
    if not as_json:
        from sweeper.cli.show_effects import show_effects

        show_effects(found, drawn=place is not None)
    fault = _draw(found, place)
    if as_json:
        _print(found, place, fault)
    elif place is not None and fault is None:
        click.echo(f"{place} is drawn")
    if fault is not None:
        click.echo(str(fault), err=True)
        return fault.exit_code
    return 0


def _refuse_unknown(run: WrittenRun, names: tuple[str, ...]) -> None:
    """Raises UsageError for what is no measurement and no solved setting."""
    from sweeper.chain.nearest import suggestion
    from sweeper.quantities import BY_KEY, BY_NAME, find_quantity, named_quantity
    from sweeper.table.effects import measurable
    from sweeper.units import folded

    offered = measurable(run) if names else ()
    known = {folded(name) for name in (*offered, *BY_KEY, *BY_NAME)}
    for name in names:
        if folded(name) not in known and named_quantity(name.strip()) is None and find_quantity(name) is None:
            raise click.UsageError(f"--measure: nothing measured is called '{name}'\n    {suggestion(name, offered)}")


def _draw(found: Effects, place: Path | None) -> SweeperError | None:
    """Draw it where asked for; what was found is never lost when that fails."""
    from sweeper.audio.placing import place_text
    from sweeper.errors import SweeperError
    from sweeper.pictures.effects import effects_picture
    from sweeper.table.effects.drawn import drawn

    if place is None:
        return None
    try:
        place_text(place, effects_picture(drawn(found)), "name another file with --plot")
    except SweeperError as exc:
        return exc
    return None


def _print(found: Effects, place: Path | None, fault: SweeperError | None) -> None:
    from sweeper.cli.answers import error_data, print_json
    from sweeper.table.effects.data import effects_data

    data = effects_data(found)
    if place is not None and fault is None:
        data["picture"] = str(place)
    print_json({**data, **({} if fault is None else {"error": error_data(fault)["error"]})})
