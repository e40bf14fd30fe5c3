"""A run told on one page of HTML, for the client or for the folder."""

from sweeper.audition.report.page import Reported, write_report

__all__ = ["Reported", "write_report"]
