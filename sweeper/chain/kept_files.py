"""What the text of a chain file says of its files and sections, whether or not these are still there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.chain.audition import read_audition
from sweeper.chain.document import read_document
from sweeper.chain.faults import Faults
from sweeper.chain.mixes import read_mixes, read_references
from sweeper.chain.model import Mix, Reference
from sweeper.chain.shapes import fields


@dataclass(frozen=True)
class KeptFiles:
    """Mixes and references in the file's order, and the sections whose loudness is matched; () = the whole."""

    mixes: tuple[Mix, ...]
    references: tuple[Reference, ...]
    match_over: tuple[str, ...]


def kept_files(text: str, chain_file: Path) -> KeptFiles:
    """Read from the text that a run keeps of its chain file, which was checked when it began.

    chain_file: where that stood; paths in it resolve from its folder. A file that has gone since is no fault here.
    """
    faults = Faults(str(chain_file))
    document = read_document(text, faults)
    if document is None or document.pairs is None:
        return KeptFiles((), (), ())
    known, folder = fields(document, "chain", "the chain file", faults), chain_file.absolute().parent
    mixes = read_mixes(known, folder, faults).mixes
    references = read_references(known["references"].value, folder, faults) if "references" in known else ()
    match_over: tuple[str, ...] = ()
    if "audition" in known:
        match_over = read_audition(known["audition"], mixes, known.get("prefer"), faults).match_over
    return KeptFiles(mixes, references, match_over)
