"""A chain file from its path to a checked `Chain`; every fault of the file is told at once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from sweeper.chain.audition import Audition, read_audition
from sweeper.chain.buses import read_buses
from sweeper.chain.conditions import add_twice_bounded, read_conditions, read_preferences
from sweeper.chain.decode import read_text
from sweeper.chain.document import Node, read_document
from sweeper.chain.excerpts import refuse_untold
from sweeper.chain.explore import read_explore, refuse_nothing_to_explore
from sweeper.chain.faults import Faults
from sweeper.chain.mix_own import ForAll, read_own
from sweeper.chain.mixes import read_mixes, read_references
from sweeper.chain.model import Chain, Condition, Mix, Stage
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.print_model import NO_PRINTS
from sweeper.chain.prints import read_print
from sweeper.chain.rides import read_rides
from sweeper.chain.shapes import Field, fields, single
from sweeper.chain.stages import StageNames, read_stages, stage_names
from sweeper.chain.targets import Targets, read_reach
from sweeper.chain.vary import Varied, read_vary
from sweeper.errors import ChainFileError
from sweeper.quantities import quantity_of

EACH_TO_TARGET = "each to target"
KEEP_RELATIONS = "keep relations"
MOST_COMBINATIONS = 100_000


def load_chain(path: Path, text: str | None = None, moved: Mapping[str, Path] | None = None) -> Chain:
    """The chain that a file describes.

    path: the chain file; paths in it resolve from its folder. text: what stood in it, where it was read before: then
    the file itself is not looked at. moved: where files and folders lie now, by the path that they had.
    Mixes, references and states must be there; what is in them, and whether the plugins are installed, is not looked
    at.
    Raises ChainFileError with every fault of the file, each at its line and column.
    """
    faults = Faults(str(path), moved)
    text = read_text(path, faults) if text is None else text
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
    read = read_mixes(known, folder, faults)
    mixes = read.mixes
    references = read_references(known["references"].value, folder, faults) if "references" in known else ()
    stages, names = _stages(known, folder, faults)
    if "rides" in known:
        names = read_rides(known["rides"].value, names, mixes, faults)
    explored = "explore" in known
    varied = read_vary(known["vary"].value, names, faults, explored) if "vary" in known else Varied()
    before = len(faults.problems)
    targets = read_reach(known["reach"].value, names, varied, faults) if "reach" in known else Targets()
    for_all = ForAll(names, varied, targets, len(faults.problems) == before)
    before = len(faults.problems)
    mixes = read_own(read, for_all, faults)
    goals_known = len(faults.problems) == before
    limits = read_conditions(known["limits"].value, "limits", names, faults) if "limits" in known else ()
    prefer = known.get("prefer")
    audition = read_audition(known["audition"], mixes, prefer, faults) if "audition" in known else Audition()
    keeps_relations = _read_album(known, mixes if goals_known else (), targets, faults)
    chain = Chain(
        path=path,
        text=text,
        title=_title(path, known.get("title"), faults),
        mixes=mixes,
        references=references,
        inserts=tuple(stage for stage in stages if not stage.output and not stage.bus),
        output=tuple(stage for stage in stages if stage.output),
        vary=varied.axes,
        reach=targets.reach,
        limits=_all_limits(targets.bounds, limits, faults),
        prefer=read_preferences(prefer.value, names, faults) if prefer else (),
        match_over=audition.match_over,
        sequence=varied.sequence,
        keep=audition.keep,
        buses=tuple(stage for stage in stages if stage.bus),
        rides=tuple(ride for ride in names.rides.values() if ride is not None),
        explore=read_explore(known["explore"], prefer, faults) if explored else None,
        keeps_relations=keeps_relations,
        prints=read_print(known["print"], folder, len(mixes), faults) if "print" in known else NO_PRINTS,
    )
    if explored:
        refuse_nothing_to_explore(known["explore"], _is_varied(chain, known), faults)
        refuse_untold(known["explore"], chain, faults)
        _refuse_alternates(chain, faults)
    else:
        _check_count(chain, known, faults)
    return chain


def _refuse_alternates(chain: Chain, faults: Faults) -> None:
    """An exploration with alternates would render them with every setting that is only tried."""
    for mix in chain.mixes:
        if mix.settings_from is not None:
            faults.add(mix.mark, "'settings from' would be rendered with everything that 'explore' tries",
                       "take it out, explore, and write the settings that you choose into a chain file with it: "
                       "`sweeper recall SHEET --as-chain` begins one")  # fmt: skip


def _stages(known: Mapping[str, Field], folder: Path, faults: Faults) -> tuple[tuple[Stage, ...], StageNames]:
    """Every stage: the inserts, those of the buses, the output stages; and their names."""
    inserts = read_stages(known["inserts"].value, False, folder, faults) if "inserts" in known else ()
    buses = read_buses(known["buses"].value, folder, faults) if "buses" in known else ()
    output = read_stages(known["output"].value, True, folder, faults) if "output" in known else ()
    stages = inserts + buses + output
    if not stages:
        faults.add(None, "names no stage", "add 'inserts:' or 'output:' with at least one plugin")
    return stages, stage_names(stages, faults)


def _title(path: Path, field: Field | None, faults: Faults) -> str:
    """The title; without one, the file's name up to its first dot."""
    if field is None:
        return path.name.split(".")[0] or path.name
    return single(field.value, "title", faults) or ""


def _is_varied(chain: Chain, known: Mapping[str, Field]) -> bool:
    """Whether anything is in doubt, or would be if it had no faults."""
    return ("vary" in known and not known["vary"].value.empty) or any(stage.alternatives for stage in chain.stages)


def _check_count(chain: Chain, known: Mapping[str, Field], faults: Faults) -> None:
    """More combinations than anybody could render are a slip, and would take for ever to count."""
    places = [len(chain.mixes), len(chain.sequence) or 1]
    places += [len(stage.choices) for stage in chain.stages] + [len(axis.values) for axis in chain.vary]
    combinations = math.prod(places)
    if combinations > MOST_COMBINATIONS:
        mark = known["vary"].mark if "vary" in known else None
        faults.add(mark, f"this asks for {combinations} variants", f"try fewer values: {MOST_COMBINATIONS} at most")


def _read_album(known: Mapping[str, Field], mixes: tuple[Mix, ...], targets: Targets, faults: Faults) -> bool:
    """Whether the mixes keep their relations. Several of them on one loudness must be asked for in so many words.

    mixes: () = their goals are not known.
    """
    levels = [reach for reach in targets.reach if quantity_of(reach.key).unit == "LUFS" or reach.key == "rms_dbfs"]
    if "album" in known:
        field = known["album"]
        text = single(field.value, "album", faults)
        if text is not None and text.casefold() not in (EACH_TO_TARGET, KEEP_RELATIONS):
            faults.add(field.value.mark, f"album is {quoted(text)}", suggestion(text, (EACH_TO_TARGET, KEEP_RELATIONS)))
        return text is not None and text.casefold() == KEEP_RELATIONS
    for level in levels:
        sharing = [mix for mix in mixes if mix.settings_from is None and all(g.key != level.key for g in mix.goals)]
        if len(sharing) > 1:
            what = f"{len(sharing)} mixes would all land on the same {quantity_of(level.key).name}"
            faults.add(level.mark, what, f"add album: {EACH_TO_TARGET} if that is meant, or album: {KEEP_RELATIONS}")
            break
    return False


def _all_limits(
    bounds: tuple[Condition, ...], limits: tuple[Condition, ...], faults: Faults
) -> tuple[Condition, ...]:
    """Bounds from `reach` and `limits` together; the same one in both is a fault."""
    for limit in limits:
        for bound in bounds:
            if limit.bounds == bound.bounds:
                add_twice_bounded(limit, bound, faults)
    return bounds + limits
