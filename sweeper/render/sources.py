"""The mixes and references as they are, measured before anything is rendered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sweeper.audio import inspect
from sweeper.chain.model import Chain
from sweeper.errors import AudioFileError, ChainFileError, Problem, SweeperError
from sweeper.plan.sections import frame_ranges, too_long
from sweeper.render.orders import Measured, MeasureOrder
from sweeper.workers import Cause, Failed, Pool, Task


def measured(orders: Sequence[MeasureOrder], pool: Pool) -> list[Measured]:
    """Measure every file, in order. Raises AudioFileError (or whatever ended the measuring) for the first bad one."""
    tasks = [Task(str(n), "sweeper.render.file_tasks:measure_file", order, order.file.name)
             for n, order in enumerate(orders)]  # fmt: skip
    found = []
    for order, outcome in zip(orders, pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            raise _error(order.file, outcome)
        assert isinstance(outcome.value, Measured)
        found.append(outcome.value)
    return found


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


def _error(file: Path, failed: Failed) -> Exception:
    if failed.cause is Cause.ERROR and isinstance(failed.error, SweeperError):
        return failed.error
    return AudioFileError(f"measuring {file} {failed.what}", "the file may be damaged; bounce it again as WAV")
