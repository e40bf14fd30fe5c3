"""The report as one HTML file that needs nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio.placing import place_text, refuse_taken
from sweeper.audition.report.content import Told
from sweeper.audition.report.pictures import effects_image, pictures_of
from sweeper.table.picks import picks_of
from sweeper.table.written import read_ledger, read_run
from sweeper.version import VERSION
from sweeper.workers import Pool

TEMPLATE = "report.html"
#: So many variants are drawn: a page that is read. Ours.
MOST_DRAWN = 6
ELSEWHERE = "name another file with --to"


@dataclass(frozen=True)
class Reported:
    """A report that was written. drawn: what has its picture in it."""

    file: Path
    bytes: int
    drawn: tuple[str, ...]


def write_report(run_folder: Path, target: Path, for_client: bool, pool: Pool) -> Reported:
    """Write the report of a run to a file that is not there yet.

    for_client: without the chain, its settings and what was noted of plugins. Raises RunFolderError when the run cannot
    be read, the file is there or the disk refuses, and AudioFileError when a render cannot be read.
    """
    refuse_taken(target, ELSEWHERE)
    run = read_run(run_folder)
    told = Told(run, picks_of(run.path), read_ledger(run_folder)[1], private=not for_client)
    pictures = pictures_of(run, told.shown(MOST_DRAWN), pool)
    text = html(told, pictures, "" if for_client else effects_image(run))
    place_text(target, text, ELSEWHERE)
    return Reported(target, len(text.encode("utf-8")), tuple(one["name"] for one in pictures))


def html(told: Told, pictures: list[dict[str, str]], effects: str = "") -> str:
    """The page. Whatever a text holds is shown as it is, never taken for HTML."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    place = FileSystemLoader(Path(__file__).parent, encoding="utf-8")
    environment = Environment(loader=place, autoescape=True, undefined=StrictUndefined, trim_blocks=True,
                              lstrip_blocks=True)  # fmt: skip
    return environment.get_template(TEMPLATE).render(
        **told.content(), pictures=pictures, effects=effects, program_version=VERSION)  # fmt: skip
