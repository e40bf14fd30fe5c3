"""`sweeper shortlist`: a run ranked again by other limits or preferences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from sweeper.cli.options import json_option, workers_option_of

if TYPE_CHECKING:
    from sweeper.audition.taken_in import TakenIn
    from sweeper.render.matched_null import MatchedNull, NullOrder
    from sweeper.workers import Failed

_Read = TypeVar("_Read")


@click.command()
@click.argument("run_folder", type=click.Path(path_type=Path), metavar="RUN")
@click.option("--limit", "limits", multiple=True, metavar="'crest >= 8 dB'",
              help="A limit to hold instead of the run's own; may be given several times.")
@click.option("--prefer", multiple=True, metavar="'crest highest'",
              help="What ranks, instead of the run's own preferences; with several, their trade-off fronts.")
@click.option("--keep", type=click.IntRange(1), metavar="N", help="Pick the best N of each mix that differ.")
@click.option("--picks", "picks_file", type=click.Path(path_type=Path), metavar="FILE",
              help="Take in the notes that an exported audition saved; the run's own are kept, and a copy of them.")
@workers_option_of("How many pairs are compared side by side.")
@json_option
def shortlist(run_folder: Path, limits: tuple[str, ...], prefer: tuple[str, ...], keep: int | None,
              picks_file: Path | None, workers: int, as_json: bool) -> int:  # fmt: skip
    """Rank the variants of RUN by other limits or preferences. Renders nothing; only --picks writes.

    \b
        sweeper shortlist results/2026-11-25-lantern-bay --keep 3
        sweeper shortlist results/2026-11-25-lantern-bay --limit "crest >= 8 dB" --prefer "loudness range highest"
        sweeper shortlist results/2026-11-25-lantern-bay --picks lantern-bay.picks.json

    Without options: by the run's own limits and preferences. Limits and preferences are written as in a chain file.
    """
    from sweeper.chain.one_condition import read_condition_texts, read_preference_texts
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_picks import picks_answer, show_taken_in
    from sweeper.cli.show_shortlist import show_shortlist
    from sweeper.render.matched_null import matched_nulls
    from sweeper.shortlist import shortlist as choose
    from sweeper.table.picks import picks_of
    from sweeper.table.written import read_run
    from sweeper.workers import Pool

    held = _read(read_condition_texts, limits, "--limit")
    wishes = _read(read_preference_texts, prefer, "--prefer")
    run = read_run(run_folder)

    def nulls(orders: Sequence[NullOrder]) -> Sequence[MatchedNull | Failed]:
        with working("comparing variants", as_json), Pool(min(workers, len(orders))) as pool:
            return matched_nulls(orders, pool)

    found = choose(run, held, wishes, keep, nulls)
    if keep is not None and not found.prefer:
        raise click.UsageError("--keep picks the best, and nothing is preferred: add e.g. --prefer 'crest highest'")
    taken = _taken_in(run_folder, picks_file)
    picks = picks_of(run.path)
    if as_json:
        print_json({**found.data, **picks_answer(picks, taken)})
    else:
        if taken is not None:
            show_taken_in(taken)
        show_shortlist(found, picks=picks)
    return 0 if any(row.fits for row in found.rows) else 1


def _taken_in(run_folder: Path, file: Path | None) -> TakenIn | None:
    """The notes of a file taken into the run's; None where none was named."""
    from sweeper.audition.taken_in import take_in

    return None if file is None else take_in(run_folder, file)


def _read(read: Callable[[Sequence[str], str], _Read], texts: Sequence[str], option: str) -> _Read | None:
    """What was given with an option; None when it was not given. Raises UsageError for what cannot be read."""
    from sweeper.errors import ChainFileError

    if not texts:
        return None
    try:
        return read(texts, option)
    except ChainFileError as exc:
        raise click.UsageError(exc.what) from exc
