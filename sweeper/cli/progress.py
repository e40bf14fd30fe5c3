"""Progress on stderr: a bar with the time left on a terminal, a line a variant elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType

from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from sweeper.cli.streams import err
from sweeper.plan.reach import Ending
from sweeper.table.row import Row


class RunProgress:
    """Watches a run. A context manager; quiet: says nothing at all."""

    def __init__(self, quiet: bool) -> None:
        self._quiet = quiet
        self._parts: dict[str, tuple[int, float]] = {}  # variant at work -> passes done, share of the one under way
        self._total = 0
        self._done = 0
        self._bar: Progress | None = None
        if not quiet and err().is_terminal:
            self._bar = Progress(TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(),
                                 TimeRemainingColumn(), console=err(), transient=True)  # fmt: skip
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
        """One event of the workers, or {"event": "rendering", "variants": n} before the first render."""
        if event.get("event") == "rendering":
            self._total = int(str(event["variants"]))
            if self._bar is not None:
                self._bar.update(self._task, description="rendering", total=self._total, completed=0)
        elif self._bar is None:
            return
        elif self._total and event.get("event") in ("phase", "beat"):
            self._advance(event)
        elif event.get("event") == "phase":
            self._bar.update(self._task, description=escape(str(event.get("what", "")))[:60])

    def _advance(self, event: dict[str, object]) -> None:
        """Move the bar by what is under way. A variant's number of passes is not known: each fills half of the rest."""
        assert self._bar is not None
        task = str(event.get("task", ""))
        passes, share = self._parts.get(task, (0, 0.0))
        if event.get("event") == "beat":
            told = event.get("share")
            self._parts[task] = (passes, max(share, told if isinstance(told, float) else 0.0))
        elif event.get("what") == "rendering":
            self._parts[task] = (passes + (share > 0), 0.0)
        under_way = sum(1 - 0.5 ** (passes + share) for passes, share in self._parts.values())
        if self._done < self._total:
            self._bar.update(self._task, completed=self._done + under_way)
        else:
            self._bar.update(self._task, description="writing the listening copies")

    def row_done(self, row: Row) -> None:
        """A variant is in: a line for it."""
        self._done += 1
        self._parts.pop(row.id, None)
        if self._bar is not None:
            self._bar.update(self._task, completed=self._done)
        if not self._quiet:
            err().print(f"{self._done}/{self._total} {line_of(row)}", soft_wrap=True)


def line_of(row: Row) -> str:
    """A variant in one line: its settings, and what it came to."""
    settings = ", ".join(f"{name} {value}" for name, value in row.settings.items())
    head = escape(f"variant {row.id}" + (f" ({settings})" if settings else ""))
    if not row.done:
        return f"[red]{head}: failed: {escape(row.cause)}[/red]"
    assert row.measurements is not None
    loudness, peak = row.measurements["loudness_lufs"], row.measurements["true_peak_dbtp"]
    words = [
        "silence" if loudness is None else f"{loudness:.2f} LUFS",
        "no peak" if peak is None else f"{peak:.2f} dBTP",
    ]
    if row.solved is not None and row.solved.ending is not Ending.ON_TARGET:
        words.append(f"{row.solved.ending.value} ({row.solved.why})")
    if row.passes > 1:
        words.append(f"{row.passes} passes")
    return f"{head}: {escape(', '.join(words))}"


@contextmanager
def working(words: str, quiet: bool) -> Iterator[None]:
    """Says on a terminal what is being done while it lasts; says nothing when quiet or not a terminal."""
    if quiet or not err().is_terminal:
        yield
        return
    with err().status(escape(words)):
        yield
