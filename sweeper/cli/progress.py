"""Progress on stderr: a bar with the time left and a line a variant, on a terminal only."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn
from rich.status import Status

from sweeper.cli.remarks import ending_words
from sweeper.cli.streams import err
from sweeper.plan.reach import Ending
from sweeper.plan.work import STEP_TASK
from sweeper.table.row import OnExcerpts, Row

WORDS_LENGTH = 60


class RunProgress:
    """Watches a run. A context manager; says nothing when quiet, or where stderr is no terminal.

    console: None = stderr.
    """

    def __init__(self, quiet: bool, console: Console | None = None) -> None:
        self._console = console or err()
        self._parts: dict[str, tuple[int, float]] = {}  # variant at work -> passes done, share of the one under way
        self._at_work: dict[str, None] = {}
        self._total = 0
        self._done = 0
        self._doing = "rendering"
        self._bar: Progress | None = None
        if not quiet and self._console.is_terminal:
            self._bar = Progress(TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(),
                                 TimeRemainingColumn(), console=self._console, transient=True)  # fmt: skip
            self._task = self._bar.add_task("measuring the mix", total=None)

    def __enter__(self) -> RunProgress:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:  # fmt: skip
        if self._bar is not None:
            self._bar.stop()

    def event(self, event: dict[str, object]) -> None:
        """One event of the workers, or {"event": "rendering", "variants": n} before the first render.

        "trying", as telling, comes before variants are tried on excerpts. "comparing" and "repeating" come before
        variants are held against each other, "looking" before the best are looked into.
        """
        if self._bar is None:
            return
        kind, task = event.get("event"), str(event.get("task", ""))
        if kind in ("rendering", "trying"):
            self._total, self._done = int(str(event["variants"])), 0
            self._doing = "rendering" if kind == "rendering" else "trying on excerpts"
            self._bar.update(self._task, description=self._doing, total=self._total, completed=0)
        elif kind == "looking":
            self._total = self._done = 0
            self._bar.update(self._task, description="looking into the best", total=None)
        elif kind in ("comparing", "repeating"):
            self._total = self._done = 0
            words = "comparing variants" if kind == "comparing" else "rendering one once more"
            self._bar.update(self._task, description=words, total=None)
        elif not self._total:
            if kind == "phase":
                self._bar.update(self._task, description=escape(str(event.get("what", "")))[:WORDS_LENGTH])
        elif self._done == self._total:
            self._bar.update(self._task, description="writing the listening copies")
        else:
            self._rendering(str(kind), task, event)

    def _rendering(self, kind: str, task: str, event: dict[str, object]) -> None:
        """Follow what is under way. A variant's number of passes is not known: each fills half of the rest."""
        assert self._bar is not None
        if kind == "ended":
            self._at_work.pop(task, None)
        elif kind in ("phase", "beat"):
            self._at_work.setdefault(task)
        if kind in ("phase", "beat") and not task.startswith(STEP_TASK):
            self._parts[task] = _moved(self._parts.get(task, (0, 0.0)), event)
        under_way = sum(1 - 0.5 ** (passes + share) for passes, share in self._parts.values())
        self._bar.update(self._task, description=self._words(), completed=self._done + under_way)

    def _words(self) -> str:
        """rendering 003, 004, 1 shared step"""
        steps = sum(task.startswith(STEP_TASK) for task in self._at_work)
        words = sorted(task for task in self._at_work if not task.startswith(STEP_TASK))
        words += [f"{steps} shared step{'s' * (steps > 1)}"] if steps else []
        return escape(f"{self._doing} {', '.join(words)}".strip()[:WORDS_LENGTH])

    def row_done(self, row: Row) -> None:
        """A variant is in: a line for it."""
        self._done += 1
        self._parts.pop(row.id, None)
        if self._bar is not None:
            self._bar.update(self._task, completed=self._done)
            self._console.print(f"{self._done}/{self._total} {line_of(row)}", soft_wrap=True)


def _moved(part: tuple[int, float], event: dict[str, object]) -> tuple[int, float]:
    """Passes done and the share of the one under way, after a beat or a new phase."""
    passes, share = part
    if event.get("event") == "beat":
        told = event.get("share")
        return passes, max(share, told if isinstance(told, float) else 0.0)
    return (passes + (share > 0), 0.0) if event.get("what") == "rendering" else part


def line_of(row: Row) -> str:
    """A variant in one line: its settings, and what it came to; as markup."""
    settings = ", ".join(f"{name} {value}" for name, value in row.settings.items())
    head = escape(f"variant {row.id}" + (f" ({settings})" if settings else ""))
    if row.on_excerpts is not None and row.measurements is None:
        return f"{head}: {escape(_tried_words(row.on_excerpts))}"
    if row.measurements is None:
        return f"[red]{head}: failed: {escape(row.cause)}[/red]"
    loudness, peak = row.measurements["loudness_lufs"], row.measurements["true_peak_dbtp"]
    words = [
        "silence" if loudness is None else f"{loudness:.2f} LUFS",
        "no peak" if peak is None else f"{peak:.2f} dBTP",
    ]
    words += [ending_words(solved) for solved in row.solved if solved.ending is not Ending.ON_TARGET]
    if row.passes > 1:
        words.append(f"{row.passes} passes")
    if row.excerpts:
        words.append(f"{row.excerpts:.1f} of one on excerpts")
    return f"{head}: {escape(', '.join(words))}"


def _tried_words(found: OnExcerpts) -> str:
    loudness, peak = found.measurements["loudness_lufs"], found.measurements["true_peak_dbtp"]
    missed = [ending_words(solved) for solved in found.solved if solved.ending is not Ending.ON_TARGET]
    if loudness is None or peak is None:
        return ", ".join(["silence on excerpts", *missed])
    return ", ".join([f"on excerpts {loudness:.2f} LUFS, {peak:.2f} dBTP", *missed])


class Said:
    """What is said to be under way; `aside` clears the line while an answer is printed."""

    def __init__(self, status: Status | None) -> None:
        self._status = status

    @contextmanager
    def aside(self) -> Iterator[None]:
        """While it lasts nothing is said."""
        if self._status is None:
            yield
            return
        self._status.stop()
        yield
        self._status.start()

    def now(self, words: str) -> None:
        """What is being done from now on."""
        if self._status is not None:
            self._status.update(escape(words))


@contextmanager
def working(words: str, quiet: bool) -> Iterator[Said]:
    """Says on a terminal what is being done while it lasts; says nothing when quiet or not a terminal."""
    if quiet or not err().is_terminal:
        yield Said(None)
        return
    with err().status(escape(words)) as status:
        yield Said(status)
