"""One worker's place in the pool: the child that sits there, its task, and what has been heard of it."""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable

from sweeper.errors import SweeperError
from sweeper.workers.ending import ending
from sweeper.workers.line import Line
from sweeper.workers.memory import Gauge, in_gigabytes
from sweeper.workers.messages import (
    Beat,
    Begun,
    Message,
    Noted,
    Order,
    Phase,
    Raised,
    Ready,
    Returned,
    Unreadable,
)
from sweeper.workers.output import Heard
from sweeper.workers.progress import advanced, begun, postponed
from sweeper.workers.report import CLOSING_LIMIT_S
from sweeper.workers.starts import Starts
from sweeper.workers.supervisor import Child, ConnectionEnded
from sweeper.workers.task import Cause, Done, Failed, Outcome, Task
from sweeper.workers.watchdog import fired

START_LIMIT_S = 60.0  # Python and its imports, on a cold disk with a virus scanner
_MESSAGES_A_LOOK = 1_000  # a child that reports without pause must not keep the others waiting
_MAY_ASK = ("loading", "looking up")  # phases in which foreign code likes to open windows
_A_DIALOG = "; it may be waiting for an answer in a window of its own"
_HANDINGS = 2  # of a task to a child that dies before it has begun: hardly the task's fault


class Place:
    """worker: its number, in events. emit: takes each event. new_child: starts a process, or raises OSError.

    renew_after: tasks that one child gets. gauge: how much memory it may take.
    """

    def __init__(
        self,
        worker: int,
        emit: Callable[[dict[str, object]], None],
        starts: Starts,
        new_child: Callable[[], Child],
        renew_after: int,
        gauge: Gauge,
    ) -> None:
        self.task: Task | None = None
        self._worker = worker
        self._emit = emit
        self._starts = starts
        self._new_child = new_child
        self._renew_after = renew_after
        self._gauge = gauge
        self._child: Child | None = None
        self._ready = False  # for an order
        self._closing: str | None = None  # the task whose outcome is in, while the child takes down what it kept
        self._handed = self._begun = False
        self._handings = self._tasks_done = 0
        self._ready_by_s = 0.0
        self._progress = begun(0.0)

    @property
    def connection(self) -> Line | None:
        """To be waited on; None while there is none."""
        return self._child.connection if self._child else None

    @property
    def deadline_s(self) -> float | None:
        """When this place must be looked at again, on the monotonic clock, whatever is heard until then."""
        if self._child is not None and not self._ready:
            return self._ready_by_s
        return self._progress.deadline_s if self._handed else None

    def take(self, task: Task) -> Failed | None:
        """`task` is this place's next. Failed at once if its argument does not pickle."""
        try:
            self._order = Order(task.function, pickle.dumps(task.argument, pickle.HIGHEST_PROTOCOL))
        except Exception as error:  # noqa: BLE001 - pickling runs the argument's own code
            what = f"failed: its argument cannot be sent to a worker ({type(error).__name__}: {error})"
            return Failed(task.key, Cause.ERROR, what, "starting", "", (), error)
        self.task = task
        self._handings = 0
        self._hand_over()
        return None

    def look(self) -> Outcome | None:
        """Takes in all that has come, and judges what has not. An outcome ends the place's task.

        Raises SweeperError when children do not start.
        """
        if self._child is None:
            self._hand_over()
            return None
        self._emit_lines()
        return self._taken_in(self._child) or self._outgrown()

    def _taken_in(self, child: Child) -> Outcome | None:
        """What the child has sent, or that it sends nothing."""
        try:
            for _ in range(_MESSAGES_A_LOOK):
                dead = child.has_died()  # asked first: the dead may have left messages
                if (message := child.message()) is None:
                    return self._silence(child, dead)
                if (outcome := self._heard_message(child, message)) is not None:
                    return outcome
                if child is not self._child:
                    return None
        except ConnectionEnded:
            return self._ended(child)
        return None

    def postpone(self, by_s: float) -> None:
        """Nobody has looked for that long."""
        self._ready_by_s += by_s
        self._progress = postponed(self._progress, by_s)

    def clear(self) -> None:
        """Gives up the task; a child at work on it is killed, an idle one stays."""
        if self.task is not None and self._child is not None:
            self.dismiss()
        self.task = None

    def kill(self) -> None:
        """At once, without waiting; dismiss() follows."""
        if self._child is not None:
            self._child.kill()

    def dismiss(self) -> None:
        """The child goes, the place stays."""
        child, self._child = self._child, None
        self._ready = self._handed = self._begun = False
        self._closing = None
        self._tasks_done = 0
        if child is not None:
            child.close()

    def _hand_over(self) -> None:
        """Brings the task to a ready child, or sees to it that there will be one."""
        if self.task is None or self._handed:
            return
        if self._child is None:
            self._start()
        elif self._ready:
            self._handed = True
            self._handings += 1
            self._progress = begun(time.monotonic())
            self._child.send(self._order)

    def _start(self) -> None:
        try:
            self._child = self._new_child()
        except OSError as error:
            self._starts.failed(f"could not be started ({error})", ())
        self._ready_by_s = time.monotonic() + START_LIMIT_S

    def _heard_message(self, child: Child, message: Message) -> Outcome | None:
        match message:
            case Ready():
                self._is_ready(child)
            case Begun():
                self._begun = True
                self._tell("started", where=self.task and self.task.where, pid=child.pid)
            case Phase():
                self._progress = advanced(self._progress, message, time.monotonic())
                self._tell("phase", what=message.what, limit_s=message.limit_s)
            case Beat():
                self._progress = advanced(self._progress, message, time.monotonic())
                now = self._progress
                self._tell("beat", phase=now.phase, position=now.position, share=message.share)
            case Noted():
                self._tell("report", data=message.data)
            case Returned() | Raised():
                return self._result(child, message)
            case Unreadable():
                return self._unreadable(child, message.error)
        return None

    def _is_ready(self, child: Child) -> None:
        """The child has started, or is done with its last task altogether."""
        if self._closing is None:
            self._starts.succeeded()
        elif (account := child.heard()) is None or self._gauge.keeps_much(child.pid):
            self._leave(account or child.output.unfinished())
        else:
            self._account_for(account)
            self._closing = None
        self._ready = self._child is not None
        self._hand_over()

    def _outgrown(self) -> Outcome | None:
        """Ends a child that takes more memory than it may."""
        child = self._child
        if child is None or not (self._begun or self._closing is not None):
            return None
        if not self._gauge.is_past(child.pid, time.monotonic()):
            return None
        child.kill()
        heard = child.last_words()
        what = f"used more than {in_gigabytes(self._gauge.limit_bytes)} of memory"
        if self._closing is not None:
            self._closed_badly(what, heard)
            return None
        return self._failed(Cause.MEMORY, f"{what} {self._progress.words}", heard)

    def _silence(self, child: Child, dead: bool) -> Outcome | None:
        """No message is waiting."""
        if dead:
            return self._ended(child)
        deadline_s = self.deadline_s
        if deadline_s is None or time.monotonic() < deadline_s:
            return None
        child.kill()
        heard = child.last_words()
        if self._closing is not None:
            self._closed_badly(f"was not done within {CLOSING_LIMIT_S:g} s", heard)
            return None
        if not self._ready:
            self._not_started(f"was not ready within {START_LIMIT_S:g} s", heard)
            return None
        return self._failed(Cause.HUNG, self._hung_words(), heard)

    def _hung_words(self) -> str:
        words = f"gave no sign of life for {self._progress.limit_s:g} s {self._progress.words}"
        return words + (_A_DIALOG if self._progress.phase.startswith(_MAY_ASK) else "")

    def _ended(self, child: Child) -> Outcome | None:
        """The child is dead, or has closed its connection, which comes to the same."""
        exit_code = child.exit_code()
        child.kill()
        heard = child.last_words()
        words = self._progress.words
        if exit_code is None:
            cause, what = Cause.HUNG, f"cut itself off without ending {words}, and was killed"
        elif fired(exit_code, heard.last):
            cause, what = Cause.HUNG, self._hung_words()
        else:
            cause, what = ending(exit_code)
            what = f"{what} {words}"
        if self._closing is not None:
            self._closed_badly(what.removesuffix(words).strip(), heard)
        elif not self._ready:
            self._not_started(what.removesuffix(words).strip(), heard)
        elif self.task is None or (not self._begun and self._handings < _HANDINGS):
            self._leave(heard)
            self._hand_over()
        else:
            return self._failed(cause, what, heard)
        return None

    def _not_started(self, what: str, heard: Heard) -> None:
        self._leave(heard)
        self._starts.failed(what, heard.last)
        self._hand_over()

    def _closed_badly(self, what: str, heard: Heard) -> None:
        """The task's outcome stands: only the child is lost."""
        self._tell("closing", what=f"{what} while closing")
        self._leave(heard)
        self._hand_over()

    def _leave(self, heard: Heard) -> None:
        self._account_for(heard)
        self.dismiss()

    def _result(self, child: Child, message: Returned | Raised) -> Outcome:
        account = child.heard()
        heard = account or child.output.unfinished()
        if isinstance(message, Raised):
            own_words = isinstance(message.error, SweeperError)
            what = message.what if own_words else f"{message.what} {self._progress.words}"
            outcome: Outcome = self._failure(Cause.ERROR, what, heard, message.error)
        else:
            outcome = Done(self._key(), message.value)
        self._account_for(heard)
        self._tasks_done += 1
        self._handed = self._begun = self._ready = False
        over = self._over(outcome)
        if account is None or self._tasks_done >= self._renew_after:
            self.dismiss()
        else:
            self._closing = over.key
            self._ready_by_s = time.monotonic() + CLOSING_LIMIT_S
        return over

    def _unreadable(self, child: Child, error: Exception) -> Outcome:
        child.kill()
        problem = f"failed: what it sent cannot be read here ({type(error).__name__}: {error})"
        what = f"{problem} {self._progress.words}"
        return self._failed(Cause.ERROR, what, child.last_words(), error)

    def _failed(self, cause: Cause, what: str, heard: Heard, error: Exception | None = None) -> Outcome:
        outcome = self._failure(cause, what, heard, error)
        self._leave(heard)
        return self._over(outcome)

    def _failure(self, cause: Cause, what: str, heard: Heard, error: Exception | None) -> Failed:
        now = self._progress
        return Failed(self._key(), cause, what, now.phase, now.position, heard.last, error)

    def _over(self, outcome: Outcome) -> Outcome:
        how = outcome.cause.value if isinstance(outcome, Failed) else "done"
        self._tell("ended", outcome=how, what=outcome.what if isinstance(outcome, Failed) else "")
        self.task = None
        return outcome

    def _account_for(self, heard: Heard) -> None:
        self._emit_lines()
        if heard.dropped_lines:
            self._tell("dropped", lines=heard.dropped_lines, bytes=heard.dropped_bytes)

    def _emit_lines(self) -> None:
        for line in self._child.output.lines() if self._child else ():
            self._tell("said", line=line)

    def _key(self) -> str:
        if self._closing is not None:
            return self._closing
        return self.task.key if self.task else ""

    def _tell(self, event: str, **details: object) -> None:
        self._emit({"event": event, "worker": self._worker, "task": self._key(), **details})
