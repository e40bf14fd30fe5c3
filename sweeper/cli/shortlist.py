"""`sweeper shortlist`: a run ranked again by other limits or preferences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from sweeper.cli.options import json_option, workers_option_of

if TYPE_CHECKING:
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
@workers_option_of("How many pairs are compared side by side.")
@json_option
def shortlist(run_folder: Path, limits: tuple[str, ...], prefer: tuple[str, ...], keep: int | None,
              workers: int, as_json: bool) -> int:  # fmt: skip
    """Rank the variants of RUN by other limits or preferences. Renders nothing and writes nothing.

    \b
        sweeper shortlist results/2026-11-25-lantern-bay --keep 3
        sweeper shortlist results/2026-11-25-lantern-bay --limit "crest >= 8 dB" --prefer "loudness range highest"

    Without options: by the run's own limits and preferences. Limits and preferences are written as in a chain file.
    """
    from sweeper.chain.one_condition import read_condition_texts, read_preference_texts
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_shortlist import show_shortlist
    from sweeper.render.matched_null import matched_nulls
    from sweeper.shortlist import shortlist as choose
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
    if as_json:
        print_json(found.data)
    else:
        show_shortlist(found)
    return 0 if any(row.fits for row in found.rows) else 1


def _read(read: Callable[[Sequence[str], str], _Read], texts: Sequence[str], option: str) -> _Read | None:
    """What was given with an option; None when it was not given. Raises UsageError for what cannot be read."""
    from sweeper.errors import ChainFileError

    if not texts:
        return None
    try:
        return read(texts, option)
    except ChainFileError as exc:
        raise click.UsageError(exc.what) from exc
