"""sweeper: renders a mastering chain in every setting in doubt, on target, level-matched and measured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sweeper.version import VERSION

if TYPE_CHECKING:
    import pandas as pd

__version__ = VERSION
__all__ = ("__version__", "load_run")


def load_run(folder: Path | str) -> pd.DataFrame:
    """The table of a run as a pandas frame, one row a variant, indexed by its id.

    Measurements, margins, gains and ranks are numbers, NaN where one does not exist, their unit in the column's name;
    settings and verdicts are text. attrs: title, run, state, chain (the chain file to the letter), mixes, references.
    Raises RunFolderError when the folder is no run's or cannot be read.
    """
    from sweeper.table.loaded import load_run as load

    return load(Path(folder))
