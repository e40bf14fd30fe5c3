"""What an exit code says about how a process ended, and the sentence for it."""

from __future__ import annotations

import signal

from sweeper.workers.task import Cause

_SIGNALS = {
    "SIGSEGV": "crashed with a segmentation fault (SIGSEGV)",
    "SIGABRT": "crashed with an abort (SIGABRT)",
    "SIGBUS": "crashed with a bus error (SIGBUS)",
    "SIGILL": "crashed with an illegal instruction (SIGILL)",
    "SIGFPE": "crashed with an arithmetic error (SIGFPE)",
    "SIGTRAP": "crashed with a trap (SIGTRAP)",
    "SIGKILL": "was killed (SIGKILL), as the system does when memory runs out,",
}
# Windows, NTSTATUS values (ntstatus.h); the two highest bits set: an error.
_NT_ERROR = 0xC0000000
_NT_STATUSES = {
    0xC0000005: "crashed with an access violation (0xC0000005)",
    0xC000001D: "crashed with an illegal instruction (0xC000001D)",
    0xC0000094: "crashed with a division by zero (0xC0000094)",
    0xC00000FD: "crashed with a stack overflow (0xC00000FD)",
    0xC0000135: "crashed for want of a library (0xC0000135)",
    0xC0000374: "crashed with a damaged heap (0xC0000374)",
    0xC0000409: "crashed with an abort (0xC0000409)",
}


def ending(exit_code: int) -> tuple[Cause, str]:
    """Cause and sentence for an exit code as subprocess gives it: -N = signal N; Windows: unsigned status."""
    if exit_code < 0:
        name = _signal_name(-exit_code)
        return Cause.CRASHED, _SIGNALS.get(name, f"was ended by a signal ({name})")
    if exit_code >= _NT_ERROR:
        return Cause.CRASHED, _NT_STATUSES.get(exit_code, f"crashed (0x{exit_code:08X})")
    return Cause.ENDED, f"ended by itself with exit code {exit_code}"


def _signal_name(number: int) -> str:
    try:
        return signal.Signals(number).name
    except ValueError:
        return f"signal {number}"
