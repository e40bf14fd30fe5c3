"""The window in a worker of its own, watched from the parent until it is closed."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from sweeper.dial.choosing import Chosen, decided_elsewhere
from sweeper.dial.dialled import Asked
from sweeper.dial.display import START_ONE, died_of_x
from sweeper.dial.orders import Closed, Loop, WindowOrder
from sweeper.dial.signs import Signs
from sweeper.errors import Interrupted, PluginError, SweeperError
from sweeper.host.setup import StageSetup
from sweeper.render.job import BLOCK_FRAMES
from sweeper.units import clock
from sweeper.workers import Failed, Pool, Task


def window(picked: Chosen, setup: StageSetup, loop: Loop, asked: Asked, folder: Path) -> tuple[Closed, bool]:
    """What stands once the window is closed, and whether Ctrl-C closed it. Raises PluginError, or Interrupted when a
    second Ctrl-C ended it at once."""
    signs = Signs(folder)
    order = _order(picked, setup, loop, asked, folder)

    def watch(event: dict[str, object]) -> None:
        asked.watch(event)
        data = event.get("data")
        if event.get("event") == "report" and isinstance(data, dict):
            for line in _said(data, loop, picked):
                asked.told(line)
            if "window" in data:
                asked.opened(signs)

    task = Task("window", "sweeper.dial.window_task:open_window", order, f"the window of {picked.called}")
    try:
        with _closing_on_interrupt(signs, asked.told) as interrupted, Pool(1, watch) as pool:
            (outcome,) = pool.map_in_order([task])
    except KeyboardInterrupt as exc:
        raise Interrupted(f"stopped{signs.told}", "the chain file is as it was") from exc
    if isinstance(outcome, Failed):
        raise _window_failure(outcome, picked, signs)
    assert isinstance(outcome.value, Closed)
    return outcome.value, interrupted.is_set()


def _order(picked: Chosen, setup: StageSetup, loop: Loop, asked: Asked, folder: Path) -> WindowOrder:
    names = dict.fromkeys((*(a.name for a in picked.own_settings), *decided_elsewhere(picked)))
    several = len(picked.stage.channels.sides) > 1
    of_one_side = tuple(a.name for a in picked.own_settings if a.side and several)
    return WindowOrder(setup, loop.file, folder, tuple(names), of_one_side, BLOCK_FRAMES, asked.patience_s)


def _said(data: Mapping[str, object], loop: Loop, picked: Chosen) -> Iterator[str]:
    """What the worker reports, in words."""
    if data.get("trouble"):
        yield f"{data['trouble']}; the loop plays in silence"
    if data.get("unkept"):
        yield f"{data['unkept']}; make room there: until then, what you dial is lost if the plugin crashes"
    if "window" in data:
        heard = f"you hear it on {data['device']}" if data["device"] else "there is no audio device: it is not heard"
        yield (f"the window of {data['window']} is open; {clock(loop.start_s)} to {clock(loop.end_s)} of "
               f"{picked.mix.written} goes round in it; {heard}")  # fmt: skip
    if "bypassed" in data and isinstance(gain_db := data["gain_db"], float):
        yield f"bypassed, {gain_db:+.1f} dB to match" if data["bypassed"] else "not bypassed"


@contextmanager
def _closing_on_interrupt(signs: Signs, told: Callable[[str], None]) -> Iterator[threading.Event]:
    """Ctrl-C asks the window to close; the next one ends everything at once. Yields what tells whether it came.

    Outside the main thread, where no signal arrives, it changes nothing.
    """
    interrupted = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield interrupted
        return
    before = signal.getsignal(signal.SIGINT)

    def close(number: int, frame: object) -> None:
        interrupted.set()
        signal.signal(signal.SIGINT, before)
        signs.ask_to_close()
        told("closing the window; Ctrl-C again ends it at once")

    signal.signal(signal.SIGINT, close)
    try:
        yield interrupted
    finally:
        signal.signal(signal.SIGINT, before)


def failure(failed: Failed, what: str) -> SweeperError:
    """Why a task failed, as an error. what: whose fault it is where the process ended, or the library raised.

    What a plugin throws is a RuntimeError of the library's; anything else that is raised is a fault of ours.
    """
    if isinstance(failed.error, SweeperError):
        return failed.error
    said = f"; it last said: {failed.said[-1]}" if failed.said else ""
    if failed.error is not None and not isinstance(failed.error, RuntimeError):
        return SweeperError(f"a fault of ours: dialling {failed.what}",
                            "\n    ".join(("please send us this, and:", *failed.said)))  # fmt: skip
    return PluginError(f"{what} {failed.what}{said}",
                       "open the plugin once in another host, and see whether it runs there")  # fmt: skip


def _window_failure(failed: Failed, picked: Chosen, signs: Signs) -> SweeperError:
    error = failure(failed, f"the plugin of {picked.called}")
    remedy = START_ONE if died_of_x(failed.said) else error.remedy
    return type(error)(f"{error.what}; the chain file is as it was{signs.told}", remedy)
