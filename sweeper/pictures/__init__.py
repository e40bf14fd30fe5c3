"""Pictures of measured files: SVG on one page, the same bytes for the same file."""

from sweeper.pictures.page import picture
from sweeper.pictures.subject import Subject
from sweeper.pictures.waveform import COLUMNS

__all__ = ["COLUMNS", "Subject", "picture"]
