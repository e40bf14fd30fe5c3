"""What made a file, as plain values: the recall sheet."""

from sweeper.records.sheet import (
    SHEET_NAME,
    SOUND_VERSION,
    Applied,
    Gave,
    HandleRecord,
    Returned,
    RideRecord,
    Sheet,
    Source,
    StageRecord,
)

__all__ = [
    "SHEET_NAME", "SOUND_VERSION", "Applied", "Gave", "HandleRecord", "Returned", "RideRecord", "Sheet", "Source",
    "StageRecord",
]  # fmt: skip
