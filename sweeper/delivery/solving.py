"""A variant's chain file with its ceiling lowered: every setting where it stood, and the same reaches again."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from sweeper.audio.placing import replace_text
from sweeper.chain import load_chain
from sweeper.chain.model import Chain, Reach
from sweeper.chain.own_chain import chain_of
from sweeper.chain.template import yaml_text
from sweeper.delivery.folders import PRINTS
from sweeper.delivery.kept import Kept
from sweeper.errors import PrintError
from sweeper.quantities import quantity_of
from sweeper.recall.as_chain import as_chain
from sweeper.recall.asked import Asked
from sweeper.recall.find import find
from sweeper.table.written import read_ledger

TRUE_PEAK = "true_peak_dbtp"
MOST = 10_000


def solved_chain(kept: Kept, ceiling_dbtp: float, results: Path, mix: Path | None) -> Path:
    """Write the chain file that makes the variant anew with that true peak, into the run's `prints`; returns it.

    Raises PrintError where the run solves no true peak, and what `as_chain` and `load_chain` raise.
    """
    if kept.chain_file is None:
        raise PrintError("this variant was made by `sweeper recall`, which solves nothing", "print it with --over trim")
    chain = _chain_of_mix(kept, kept.chain_file)
    if not any(reach.key == TRUE_PEAK for reach in chain.reach):
        raise PrintError(
            "the chain file names no true peak that could be solved again",
            "add e.g. {true peak: at most -1 dBTP, by: limiter.ceiling} under 'reach' and run that, or "
            "print with --over trim",
        )
    folder = kept.run / PRINTS
    folder.mkdir(exist_ok=True)
    target = next(
        path for n in range(1, MOST) if not os.path.lexists(path := folder / f"{kept.id}-solved-{n}.chain.yaml")
    )
    as_chain(find(kept.sheet_path, results), Asked(results, mix), target)
    lines = ["", f"# {kept.id} anew, with a true peak of at most {ceiling_dbtp:g} dBTP.", "reach:"]
    solved = {str(one["measurement"]): one for one in kept.sheet.reach}
    for reach in chain.reach:
        as_solved = replace(reach, goal=float(str(solved[reach.key]["goal"])))  # an album may have lowered it
        lines += list(_reach(as_solved, str(solved[reach.key]["setting"]), ceiling_dbtp))
    lines += list(_limits(chain))
    replace_text(target, target.read_text(encoding="utf-8") + "\n".join(lines) + "\n")
    return target


def _chain_of_mix(kept: Kept, chain_file: Path) -> Chain:
    """The run's chain as the variant's mix has it."""
    chain, (_, ledger) = load_chain(chain_file, kept.chain_text), read_ledger(kept.run)
    written = next(str(one["mix"]) for one in ledger["variants"] if one["id"] == kept.id)
    return chain_of(chain, [mix.written for mix in chain.mixes].index(written))


def _reach(reach: Reach, setting: str, ceiling_dbtp: float) -> Iterator[str]:
    quantity = quantity_of(reach.key)
    goal = f"at most {ceiling_dbtp:g}" if reach.key == TRUE_PEAK else f"{'at most ' * reach.at_most}{reach.goal:g}"
    stop = ", ".join(yaml_text(condition.text) for condition in reach.stop_at)
    unit, tolerance = quantity.unit, quantity.difference_unit
    yield (
        f"  - {{{yaml_text(quantity.name)}: {yaml_text(f'{goal} {unit}'.strip())}, "
        f"within: {yaml_text(f'{reach.within:g} {tolerance}'.strip())}, by: {yaml_text(setting)}"
        + (f", stop at: [{stop}]" if stop else "")
        + "}"
    )


def _limits(chain: Chain) -> Iterator[str]:
    targets = dict.fromkeys(limit.target for limit in chain.limits if limit.target)
    texts = [limit.text for limit in chain.limits if not limit.target] + [f"meets {target}" for target in targets]
    if texts:
        yield f"limits: [{', '.join(yaml_text(text) for text in texts)}]"
