"""Supervised child processes that call functions; they know nothing of plugins or audio."""

from sweeper.workers.keeping import keep
from sweeper.workers.pool import Pool
from sweeper.workers.report import Report
from sweeper.workers.task import Cause, Done, Failed, Task, value_of

__all__ = ["Cause", "Done", "Failed", "Pool", "Report", "Task", "keep", "value_of"]
