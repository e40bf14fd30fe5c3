"""Dialling from its request to its answer: the loop rendered, the window open, what was dialled kept."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from sweeper.audio import AudioFormat, inspect
from sweeper.chain import load_chain
from sweeper.dial.choosing import Chosen, chosen, narrowed, split
from sweeper.dial.dialled import Asked, Dialled
from sweeper.dial.display import refuse_without_display
from sweeper.dial.opening import failure, window
from sweeper.dial.orders import Loop, LoopOrder
from sweeper.dial.outcome import kept
from sweeper.dial.signs import KEPT, Signs
from sweeper.dial.stretch import checked_span_s, section_span_s
from sweeper.errors import AudioFileError
from sweeper.host.setup import StageSetup
from sweeper.plan.examine import examine
from sweeper.plan.variants import variants
from sweeper.render.job import BLOCK_FRAMES
from sweeper.workers import Pool, Task, value_of


def dial(chain_file: Path, stage: str, asked: Asked) -> Dialled:
    """Open the window of a stage's plugin on a loop of the music; keep what was dialled in a state and the chain file.

    Raises ChainFileError, AudioFileError, PluginError (the chain file is as it was then; what was dialled up to a few
    seconds before is kept, and its place told), RunFolderError, or Interrupted (the state is kept, the chain file is
    as it was).
    """
    picked = chosen(load_chain(chain_file), stage, asked.alternative, asked.mix)
    refuse_without_display()
    folder = Path(tempfile.mkdtemp(prefix="sweeper-dial-"))
    try:
        with Pool(1, asked.watch) as pool:
            setup, loop, notes = _prepared(picked, asked, folder, pool)
        closed, interrupted = window(picked, setup, loop, asked, folder)
        made = kept(picked, closed, notes, interrupted, Signs(folder))
    except BaseException:
        _clear(folder)
        raise
    shutil.rmtree(folder, ignore_errors=True)
    return made


def _clear(folder: Path) -> None:
    """Leaves nothing but the state that was kept while the window was open, which the message tells of."""
    for file in folder.iterdir():
        if file.name != KEPT:
            file.unlink(missing_ok=True)
    if not any(folder.iterdir()):
        folder.rmdir()


def _prepared(picked: Chosen, asked: Asked, folder: Path,
              pool: Pool) -> tuple[StageSetup, Loop, tuple[str, ...]]:  # fmt: skip
    """The stage as its window opens, the loop that it gets, and what is to be known of both."""
    mix = inspect(picked.mix.file)
    if mix.format.channels > 2:
        raise AudioFileError(f"{picked.mix.written} has {mix.format.channels} channels",
                             "mono and stereo mixes can be mastered")  # fmt: skip
    span_s = section_span_s(picked.mix, asked.section) if asked.section else asked.span_s
    span_s = checked_span_s(span_s, mix.duration_s, picked.mix.written) if span_s else None
    chain = narrowed(picked)
    formats = [AudioFormat(mix.format.channels, mix.format.rate_hz)]
    examined = examine(chain, formats, pool, BLOCK_FRAMES, asked.patience_s)
    before, setup, notes = split(picked, variants(chain, examined))
    order = LoopOrder(mix.path, before, span_s, folder / "loop.wav", BLOCK_FRAMES, asked.patience_s)
    (outcome,) = pool.map_in_order([Task("loop", "sweeper.dial.loop_task:render_loop", order, "the loop")])
    loop = value_of(outcome, Loop, lambda failed: failure(failed, "the loop"))
    notes = (*notes, *loop.notes)
    for note in notes:
        asked.told(note)
    return setup, loop, notes
