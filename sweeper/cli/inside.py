"""`sweeper inside`: what each stage of a chain does to the music."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, patience_option, quiet_option


class _Amount(click.ParamType[float]):
    """A number in a unit, as in chain files."""

    def __init__(self, unit: str, example: str) -> None:
        self.name = unit
        self._example = example

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        from sweeper.units import parse_amount, same_unit

        amount = parse_amount(str(value))
        found = None if amount is None else same_unit(amount, self.name)
        if found is None:
            self.fail(f"'{value}' is not a number in {self.name}; write e.g. {self._example!r}", param, ctx)
        return found


@click.command()
@click.argument("sheet", type=click.Path(path_type=Path), metavar="SHEET|FILE")
@click.option("--stage", "stages", multiple=True, metavar="NAME", help="Only this stage; again for more.")
@click.option("--tone", "tone_dbfs", type=_Amount("dBFS", "-18 dBFS"), metavar="LEVEL",
              help="RMS of the tone. [default: that of the music where the stage hears it]")
@click.option("--at", "tone_hz", type=_Amount("Hz", "100 Hz"), metavar="FREQUENCY", default="1000 Hz",
              show_default=True, help="About which frequency the tone has.")
@click.option("--mix", type=click.Path(path_type=Path), help="Where the mix lies now, if it was moved.")
@click.option("--results", type=click.Path(file_okay=False, path_type=Path), default=Path("results"),
              show_default=True, help="Where sheets are looked for.")
@patience_option
@quiet_option
@json_option
def inside(sheet: Path, stages: tuple[str, ...], tone_dbfs: float | None, tone_hz: float, mix: Path | None,
           results: Path, patience_s: float, quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Look into every stage of a variant, by its recall sheet (SHEET) or any sound file of a run (FILE).

    \b
        sweeper inside results/2026-11-24-lantern/variants/004/recall.json
        sweeper inside render.wav --stage tube --tone "-12 dBFS" --at "100 Hz"

    Tells attenuation, residue and harmonics on the loudest minute of the mix. Writes nothing.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_inside import show_one
    from sweeper.recall.asked import Asked
    from sweeper.recall.find import find
    from sweeper.recall.inside import Tone, inside_of

    if not 20 <= tone_hz <= 20000:
        raise click.UsageError("--at is 20 Hz to 20 kHz")
    if tone_dbfs is not None and not -120 <= tone_dbfs <= 0:
        raise click.UsageError("--tone is -120 dBFS to 0 dBFS")
    found = find(sheet, results)
    with working(f"looking into variant {found.sheet.variant} of {found.sheet.title}", quiet or as_json):
        made = inside_of(found, Asked(results, mix, patience_s), stages, Tone(tone_hz, tone_dbfs))
    if as_json:
        print_json({"schema": 1, "sheet": str(found.place), "id": found.sheet.id, "title": found.sheet.title,
                    "variant": found.sheet.variant, **made.as_data()})  # fmt: skip
    else:
        show_one(made)
    return 0
