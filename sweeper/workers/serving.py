"""What a child does from its start to its end: one order after another, in its main thread."""

from __future__ import annotations

import faulthandler
import importlib
import os
import pickle
import signal
import sys
import threading
import traceback
from collections.abc import Callable
from multiprocessing.connection import Client
from typing import NoReturn

from sweeper.errors import SweeperError
from sweeper.workers.keeping import let_go
from sweeper.workers.letter import Letter
from sweeper.workers.line import Line
from sweeper.workers.messages import Begun, Message, Order, Raised, Ready, Returned, packed
from sweeper.workers.report import CLOSING_LIMIT_S, FIRST_LIMIT_S, Report
from sweeper.workers.streams import Streams, arranged_streams, flush_python, intact, write_all
from sweeper.workers.watchdog import Watchdog


def serve(letter: Letter) -> NoReturn:
    """Carries out orders until the parent goes away; never returns."""
    streams = arranged_streams()
    _arrange_process(streams)
    connection = Client(letter.address, authkey=bytes.fromhex(letter.secret))
    watchdog = Watchdog(streams.voice, letter.grace_s)
    while True:
        _send(connection, packed(Ready()))
        try:
            order: Order = pickle.loads(connection.recv_bytes())
        except (EOFError, OSError):
            os._exit(0)
        result = _carried_out(order, connection, watchdog, streams)
        _fence(letter, streams)
        _send_result(connection, result)
        if not intact(streams):
            os._exit(0)  # the parent starts another child for the next order
        del result  # or it would hold what is to go
        watchdog.arm(CLOSING_LIMIT_S)
        let_go()
        watchdog.arm(None)
        _fence(letter, streams)


def _fence(letter: Letter, streams: Streams) -> None:
    """Ends the account of what was printed so far."""
    flush_python()
    write_all(streams.voice, letter.fence.encode("ascii") + b"\n")


def _arrange_process(streams: Streams) -> None:
    """Ctrl-C is the parent's business; a crash leaves a trace, no dialog box and no core file."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    faulthandler.enable(file=streams.voice)
    if sys.platform == "win32":
        import msvcrt

        msvcrt.SetErrorMode(
            msvcrt.SEM_FAILCRITICALERRORS | msvcrt.SEM_NOGPFAULTERRORBOX | msvcrt.SEM_NOOPENFILEERRORBOX
        )
    else:
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, resource.getrlimit(resource.RLIMIT_CORE)[1]))
    threading.Thread(target=_end_with_parent, args=(streams.life,), daemon=True).start()


def _end_with_parent(life: int) -> None:
    """The parent never writes a second line: stdin ends when the parent does."""
    try:
        while os.read(life, 4096):
            pass
    finally:
        os._exit(0)


def _carried_out(order: Order, connection: Line, watchdog: Watchdog, streams: Streams) -> Message:
    def send(message: Message) -> None:
        connection.send_bytes(packed(message))

    report = Report(send, watchdog.arm)
    send(Begun())
    watchdog.arm(FIRST_LIMIT_S)
    try:
        function = _function(order.function)
        return Returned(function(pickle.loads(order.argument), report))
    except SystemExit as ending:
        _leave(ending, streams)
    except SweeperError as error:
        return Raised(error.what, _carriable(error))
    except BaseException as error:  # noqa: BLE001 - whatever the task raises is its outcome
        write_all(streams.voice, "".join(traceback.format_exception(error)).encode("utf-8", "replace"))
        return _raised(error)
    finally:
        report.close()


def _function(name: str) -> Callable[[object, Report], object]:
    module, _, attribute = name.partition(":")
    function: Callable[[object, Report], object] = getattr(importlib.import_module(module), attribute)
    return function


def _raised(error: BaseException) -> Raised:
    summary = "".join(traceback.format_exception_only(error)).strip().splitlines()[-1]
    return Raised(f"failed with {summary}", _carriable(error))


def _carriable(error: BaseException) -> Exception | None:
    """`error`, if it survives being pickled and rebuilt (an exception with arguments of its own may not)."""
    try:
        return error if isinstance(pickle.loads(pickle.dumps(error)), Exception) else None  # type: ignore[return-value]
    except Exception:  # noqa: BLE001 - its own code runs here; the words travel in any case
        return None


def _leave(ending: SystemExit, streams: Streams) -> NoReturn:
    """sys.exit() in a task ends the process, as exit() in C does; but now, whatever threads are left."""
    flush_python()
    if ending.code is None or isinstance(ending.code, int):
        os._exit((ending.code or 0) & 0xFF)
    write_all(streams.voice, f"{ending.code}\n".encode("utf-8", "replace"))
    os._exit(1)


def _send_result(connection: Line, result: Message) -> None:
    try:
        data = packed(result)
    except Exception as error:  # noqa: BLE001 - pickling runs the value's own code
        problem = f"failed: what it returned cannot leave the process ({type(error).__name__}: {error})"
        data = packed(Raised(problem, _carriable(error)))
    _send(connection, data)


def _send(connection: Line, data: bytes) -> None:
    try:
        connection.send_bytes(data)
    except OSError:
        os._exit(0)
