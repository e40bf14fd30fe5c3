"""The mixes and references as they are, measured before anything is rendered."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from sweeper.audio import inspect
from sweeper.chain.model import Chain
from sweeper.errors import AudioFileError, ChainFileError, Problem
from sweeper.plan.sections import frame_ranges, too_long
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.workers import Failed, Pool, Task, value_of


def measured(orders: Sequence[MeasureOrder], pool: Pool) -> list[Measured]:
    """Measure every file, in order. Raises AudioFileError (or whatever ended the measuring) for the first bad one."""
    tasks = [Task(str(n), "sweeper.render.file_tasks:measure_file", order, order.file.name)
             for n, order in enumerate(orders)]  # fmt: skip
    return [value_of(outcome, Measured, partial(not_measured, order.file))
            for order, outcome in zip(orders, pool.map_in_order(tasks), strict=True)]  # fmt: skip


def measured_mixes(chain: Chain, pool: Pool) -> list[Measured]:
    """Every mix, with its sections. Raises AudioFileError, or ChainFileError for sections outside their mix."""
    files = [inspect(mix.file) for mix in chain.mixes]
    for mix, file in zip(chain.mixes, files, strict=True):
        if file.format.channels > 2:
            raise AudioFileError(f"{mix.written} has {file.format.channels} channels",
                                 "mono and stereo mixes can be mastered")  # fmt: skip
    problems: list[Problem] = []
    for mix, file in zip(chain.mixes, files, strict=True):
        problems += too_long(chain, mix, file.duration_s)
    if problems:
        raise ChainFileError(problems)
    orders = [MeasureOrder(mix.file, frame_ranges(mix, chain.match_over, file.format.rate_hz))
              for mix, file in zip(chain.mixes, files, strict=True)]  # fmt: skip
    return measured(orders, pool)


def not_measured(file: Path, failed: Failed) -> AudioFileError:
    """What to say where the measuring of a file came to an end that does not speak for itself."""
    return AudioFileError(f"measuring {file} {failed.what}", "the file may be damaged; bounce it again as WAV")
