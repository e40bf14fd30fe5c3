"""A chain file from its path to a checked `Chain`; every fault of the file is told at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sweeper.chain.conditions import add_twice_bounded, read_conditions, read_preferences
from sweeper.chain.decode import read_text
from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import Faults
from sweeper.chain.mixes import read_match_over, read_mixes, read_references
from sweeper.chain.model import Chain, Condition, Mix, Stage
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.shapes import Field, fields, single
from sweeper.chain.stages import StageNames, read_stages, stage_names
from sweeper.chain.targets import Targets, read_reach
from sweeper.chain.vary import read_vary
from sweeper.errors import ChainFileError

EACH_TO_TARGET = "each to target"
KEEP_RELATIONS = "keep relations"


def load_chain(path: Path) -> Chain:
    """The chain that a file describes.

    path: the chain file; paths in it resolve from its folder. Mixes, references and states must be
    there; what is in them, and whether the plugins are installed, is not looked at.
    Raises ChainFileError with every fault of the file, each at its line and column.
    """
    faults = Faults(str(path))
    text = read_text(path, faults)
    document = read_document(text, faults) if text is not None else None
    if text is None or document is None:
        raise ChainFileError(faults.problems)
    if document.pairs is None:
        faults.add(document.mark, f"the chain file is {document.kind}, not a mapping",
                   "begin with e.g. title: NAME; `sweeper start MIX` writes a whole one")
        raise ChainFileError(faults.problems)
    chain = _chain(path, text, document, faults)
    if faults:
        raise ChainFileError(faults.problems)
    return chain


def _chain(path: Path, text: str, document: Node, faults: Faults) -> Chain:
    known = fields(document, "chain", "the chain file", faults)
    folder = path.absolute().parent
    mixes = read_mixes(known, folder, faults)
    references = read_references(known["references"].value, folder, faults) if "references" in known else ()
    inserts, output, names = _stages(known, folder, faults)
    vary = read_vary(known["vary"].value, names, faults) if "vary" in known else ()
    targets = read_reach(known["reach"].value, names, vary, faults) if "reach" in known else Targets((), ())
    limits = read_conditions(known["limits"].value, "limits", faults) if "limits" in known else ()
    _check_album(known, mixes, targets, faults)
    return Chain(
        path=path,
        text=text,
        title=_title(path, known.get("title"), faults),
        mixes=mixes,
        references=references,
        inserts=inserts,
        output=output,
        vary=vary,
        reach=targets.reach,
        limits=_all_limits(targets.bounds, limits, faults),
        prefer=read_preferences(known["prefer"].value, faults) if "prefer" in known else (),
        match_over=_match_over(known.get("audition"), mixes, faults),
    )


def _stages(
    known: Mapping[str, Field], folder: Path, faults: Faults
) -> tuple[tuple[Stage, ...], tuple[Stage, ...], StageNames]:
    inserts = read_stages(known["inserts"].value, False, folder, faults) if "inserts" in known else ()
    output = read_stages(known["output"].value, True, folder, faults) if "output" in known else ()
    if not inserts and not output:
        faults.add(None, "names no stage", "add 'inserts:' or 'output:' with at least one plugin")
    names = stage_names(inserts + output, faults)
    complete = names.complete and "buses" not in known
    return inserts, output, StageNames(names.stages, complete)


def _title(path: Path, field: Field | None, faults: Faults) -> str:
    """The title; without one, the file's name up to its first dot."""
    if field is None:
        return path.name.split(".")[0] or path.name
    return single(field.value, "title", faults) or ""


def _match_over(field: Field | None, mixes: tuple[Mix, ...], faults: Faults) -> tuple[str, ...]:
    known = fields(field.value, "audition", "audition", faults) if field else {}
    return read_match_over(known["match over"].value, mixes, faults) if "match over" in known else ()


def _check_album(
    known: Mapping[str, Field], mixes: tuple[Mix, ...], targets: Targets, faults: Faults
) -> None:
    """Several mixes on one loudness must be asked for in so many words."""
    if "album" in known:
        field = known["album"]
        text = single(field.value, "album", faults)
        if text is not None and text.casefold() == KEEP_RELATIONS:
            faults.not_built(field.value.mark, quoted(KEEP_RELATIONS),
                             f"write '{EACH_TO_TARGET}', or one chain file for each mix")
        elif text is not None and text.casefold() != EACH_TO_TARGET:
            faults.add(field.value.mark, f"album is {quoted(text)}", suggestion(text, (EACH_TO_TARGET,)))
    elif len(mixes) > 1 and targets.reach:
        faults.add(targets.reach[0].mark, f"{len(mixes)} mixes would all land on the same loudness",
                   f"if that is meant, add album: {EACH_TO_TARGET}")


def _all_limits(
    bounds: tuple[Condition, ...], limits: tuple[Condition, ...], faults: Faults
) -> tuple[Condition, ...]:
    """Bounds from `reach` and `limits` together; the same one in both is a fault."""
    for limit in limits:
        for bound in bounds:
            if (limit.key, limit.relation) == (bound.key, bound.relation):
                add_twice_bounded(limit, bound, faults)
    return bounds + limits
