"""Which variants of a run keep their sound: the best that differ, told before the sound of the others goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sweeper.plan.teachers import main_variants
from sweeper.plan.variants import Variant
from sweeper.render.desk import Desk
from sweeper.render.folder import RunFolder
from sweeper.render.matched_null import MatchedNull, NullOrder, matched_nulls
from sweeper.render.once_more import rendered_again
from sweeper.render.ready import Ready
from sweeper.shortlist.apart import Repeatability
from sweeper.shortlist.choice import Choice, chosen, with_whys
from sweeper.shortlist.contender import Contender, contenders
from sweeper.shortlist.distance import spans_of
from sweeper.shortlist.likeness import Likenesses
from sweeper.shortlist.remembered import log_compared, log_once_more, remembered
from sweeper.table.alternates import with_alternates
from sweeper.table.row import Row
from sweeper.workers import Failed, Pool


def kept(rows: Sequence[Row], ready: Ready, folder: RunFolder, desk: Desk) -> tuple[list[Row], Choice]:
    """The ranked rows, those marked whose sound is kept, and what was chosen by which comparing.

    Compares in workers what choosing has to know. Raises RunFolderError when the log cannot be written.
    """
    chain = ready.chain
    varied = {variant.id: variant.varied for variant in ready.found}
    mains = main_variants(ready.found)
    own = [row for row in rows if row.id not in mains]
    fitting = contenders(folder.path, own, varied)
    nulls, again = remembered(folder.path)

    def compare(orders: Sequence[NullOrder]) -> list[MatchedNull | Failed]:
        desk.watcher({"event": "comparing", "pairs": len(orders)})
        return matched_nulls(orders, desk.pool)

    likenesses = Likenesses(fitting, spans_of(varied.values()), nulls, compare,
                            lambda one, other, null: log_compared(folder.log, one, other, null))  # fmt: skip
    repeats = Repeatability(again, _OnceMore(ready, folder, desk))
    choice = chosen(fitting, chain.prefer, chain.keep, likenesses, repeats)
    return with_alternates(rows, marked(own, choice), mains), choice


class _OnceMore:
    """Renders a variant once more, where its sound is there."""

    def __init__(self, ready: Ready, folder: RunFolder, desk: Desk) -> None:
        self._ready = ready
        self._folder = folder
        self._desk = desk
        self._by_id: Mapping[str, Variant] = {variant.id: variant for variant in ready.found}

    def __call__(self, one: Contender) -> MatchedNull | None:
        if one.render is None:
            return None
        self._desk.watcher({"event": "repeating", "variant": one.id})
        null = rendered_again(self._by_id[one.id], one.stages, one.render, self._ready, self._folder,
                              self._desk.patience_s, lambda: Pool(1, self._desk.watcher))  # fmt: skip
        log_once_more(self._folder.log, one, null)
        return null if isinstance(null, MatchedNull) else None


def marked(rows: Sequence[Row], choice: Choice) -> list[Row]:
    """The rows with whose sound is kept and why: of each mix as many as were asked for, else all.

    Where fewer fit, the best of the others make up for it.
    """
    if choice.keep is None:
        return list(rows)
    left = dict.fromkeys((row.mix for row in rows), choice.keep)
    for row in rows:
        left[row.mix] -= row.id in choice.picked
    found = []
    for row in with_whys(rows, choice):
        if row.id in choice.picked:
            found.append(replace(row, kept=True))
            continue
        fills = row.done and not row.fits and left[row.mix] > 0
        left[row.mix] -= fills
        why = f"does not fit: to make up {choice.keep}" if fills else row.why
        found.append(replace(row, kept=fills, why=why))
    return found
