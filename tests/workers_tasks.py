"""Functions for workers to run, each with one way of ending."""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import NoReturn

from sweeper.errors import ChainFileError, Problem, SettingError
from sweeper.workers import Report, keep


def double(argument: float, report: Report) -> float:
    return 2 * argument


def sleep(argument: float, report: Report) -> int:
    time.sleep(argument)
    return os.getpid()


def pid(argument: object, report: Report) -> int:
    return os.getpid()


def size(argument: bytes, report: Report) -> int:
    return len(argument)


def big(argument: int, report: Report) -> bytes:
    return bytes(argument)


def in_main_thread(argument: object, report: Report) -> bool:
    return threading.current_thread() is threading.main_thread()


def main_file(argument: object, report: Report) -> str:
    return Path(str(sys.modules["__main__"].__file__)).name


def search_path(argument: object, report: Report) -> list[str]:
    return sys.path


def arguments_and_environment(argument: object, report: Report) -> str:
    return repr((sys.argv, sys.orig_argv, dict(os.environ)))


def process_group(argument: object, report: Report) -> tuple[int, int, bool]:
    return os.getpid(), os.getsid(0), signal.getsignal(signal.SIGINT) is signal.SIG_IGN


def raise_ours(argument: object, report: Report) -> NoReturn:
    raise SettingError("Drive is 11 dB, its range is 0 to 10 dB", "write 10 dB or less")


def raise_chain_file(argument: object, report: Report) -> NoReturn:
    raise ChainFileError([Problem("a.yaml", 3, 4, "what", "remedy")])


def raise_value_error(argument: object, report: Report) -> NoReturn:
    report.phase("weighing", 5)
    report.beat("0:12.0")
    raise ValueError("not a number of dB")


class Stubborn(Exception):
    """Pickles, but cannot be rebuilt."""

    def __init__(self, one: int, two: int) -> None:
        super().__init__(f"{one} and {two}")


def raise_stubborn(argument: object, report: Report) -> NoReturn:
    raise Stubborn(1, 2)


def raise_interrupt(argument: object, report: Report) -> NoReturn:
    raise KeyboardInterrupt


def segfault(argument: object, report: Report) -> None:
    report.phase("processing", 5)
    report.beat("0:12.0", 0.5)
    ctypes.string_at(0)


def c_print_then_segfault(argument: object, report: Report) -> None:
    ctypes.CDLL(None).printf(b"last words from C\n")
    ctypes.string_at(0)


def abort(argument: object, report: Report) -> NoReturn:
    os.abort()


def end_0(argument: object, report: Report) -> NoReturn:
    report.phase("loading My Comp", 5)
    os._exit(0)


def exit_in_c(argument: object, report: Report) -> None:
    ctypes.CDLL(None).exit(7)


def sys_exit_3(argument: object, report: Report) -> NoReturn:
    sys.exit(3)


def sys_exit_words(argument: object, report: Report) -> NoReturn:
    threading.Thread(target=time.sleep, args=(60,)).start()
    sys.exit("no licence")


def hang(argument: float, report: Report) -> None:
    report.phase("processing", argument)
    while True:
        time.sleep(0.01)


def hang_without_python(argument: float, report: Report) -> None:
    """PyDLL keeps Python's lock while it calls: no other thread of this process runs."""
    report.phase("processing", argument)
    ctypes.PyDLL(None).sleep(60)


def stop_itself(argument: float, report: Report) -> None:
    report.phase("processing", argument)
    os.kill(os.getpid(), signal.SIGSTOP)


def print_for_ever(argument: float, report: Report) -> None:
    report.phase("processing", argument)
    while True:
        os.write(1, b"still here\n" * 1_000)


def print_one_endless_line(argument: float, report: Report) -> None:
    report.phase("processing", argument)
    while True:
        os.write(1, b"." * 10_000)


def print_10_mb(argument: object, report: Report) -> str:
    line = b"x" * 99 + b"\n"
    for _ in range(100):
        os.write(1, line * 1_000)
    print("the last line", flush=True)
    return "printed"


def print_lines(argument: list[bytes], report: Report) -> None:
    for line in argument:
        os.write(1, line + b"\n")


def print_without_newline(argument: str, report: Report) -> None:
    sys.stdout.write(argument)


def close_stdout(argument: object, report: Report) -> str:
    os.close(1)
    return "closed"


def close_every_standard_stream(argument: object, report: Report) -> str:
    sys.stdout.close()
    sys.stderr.close()
    for descriptor in (0, 1, 2):
        try:
            os.close(descriptor)
        except OSError:
            continue
    return "closed"


def read_stdin(argument: object, report: Report) -> str:
    return sys.stdin.read()


def close_every_descriptor(argument: float, report: Report) -> None:
    report.phase("processing", argument)
    os.closerange(3, 256)
    time.sleep(60)


def kill_itself(argument: object, report: Report) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def return_a_lock(argument: object, report: Report) -> object:
    return threading.Lock()


def _fail_here(pid_of_maker: int) -> int:
    if os.getpid() != pid_of_maker:
        raise ValueError("made for another process")
    return pid_of_maker


class Local:
    """Can be rebuilt only in the process that pickled it."""

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return _fail_here, (os.getpid(),)


def return_local(argument: object, report: Report) -> Local:
    return Local()


def beat_long(argument: float, report: Report) -> str:
    """Takes five times its limit, beating twice within each."""
    report.phase("processing", argument)
    for step in range(10):
        time.sleep(argument / 2)
        report.beat(f"0:{step:02d}.0", (step + 1) / 10)
    return "alive"


def outlast(argument: tuple[float, float], report: Report) -> None:
    limit_s, taken_s = argument
    report.phase("processing", limit_s)
    time.sleep(taken_s)


def beat_much(argument: int, report: Report) -> str:
    report.phase("processing", 5)
    for step in range(argument):
        report.beat(str(step))
    return "alive"


def say(argument: dict[str, object], report: Report) -> None:
    report.say(argument)


def forked_child_holds_everything(argument: float, report: Report) -> None:
    """A copy of this process keeps the connection and the output open; this one dies."""
    report.phase("processing", argument)
    copy = os.fork()
    if copy == 0:
        time.sleep(60)
        os._exit(0)
    report.say({"copy": copy})
    os.kill(os.getpid(), signal.SIGKILL)


def runaway_child_holds_output(argument: object, report: Report) -> int:
    """A process in a session of its own keeps the output open; returns its id."""
    command = [sys.executable, "-c", "import time; time.sleep(60)"]
    return subprocess.Popen(command, start_new_session=True).pid


def die_when_idle(argument: float, report: Report) -> str:
    threading.Timer(argument, os._exit, (9,)).start()
    return "returned"


def leave_a_thread_reporting(argument: object, report: Report) -> str:
    def go_on() -> None:
        while True:
            report.beat("from the past")
            time.sleep(0.001)

    threading.Thread(target=go_on, daemon=True).start()
    return "returned"


class Trouble:
    """Does something when it is dropped, as a plugin's code may."""

    def __init__(self, how: str) -> None:
        self.how = how

    def __del__(self) -> None:
        if self.how == "segfault":
            ctypes.string_at(0)
        elif self.how == "end":
            ctypes.CDLL(None).exit(0)
        elif self.how == "hang":
            time.sleep(60)
        else:
            os.write(1, b"goodbye\n")


def keep_trouble(argument: str, report: Report) -> str:
    keep(Trouble(argument))
    return "done"


def keep_trouble_and_raise(argument: str, report: Report) -> NoReturn:
    trouble = Trouble(argument)  # the error's traceback holds this frame, and with it what is in it
    keep(trouble)
    raise SettingError("the setting did not stick", "try another")


def grow(argument: tuple[int, float], report: Report) -> int:
    """Takes so many bytes, 10 MB a hundredth of a second, then waits; returns what it holds."""
    size_bytes, wait_s = argument
    report.phase("processing", 30)
    held = []
    for number in range(size_bytes // 10**7):
        held.append(b"x" * 10**7)
        report.beat(f"0:{number // 100:02d}")
        time.sleep(0.01)
    time.sleep(wait_s)
    return sum(map(len, held))


_HELD: list[bytes] = []


def grow_for_good(argument: int, report: Report) -> int:
    """What it takes is never given back."""
    _HELD.append(b"x" * argument)
    return os.getpid()


def hang_while(argument: str, report: Report) -> None:
    report.phase(argument, 0.3)
    time.sleep(60)


def print_for_a_while(argument: float, report: Report) -> None:
    """Prints without pause until so much is out: argument in MB."""
    report.phase("processing", 30)
    line = b"y" * 99 + b"\n"
    for _ in range(int(argument * 10)):
        os.write(1, line * 1_000)
        report.beat()
    os.write(1, b"".join(b"last %d\n" % number for number in range(30)))
    ctypes.string_at(0)
