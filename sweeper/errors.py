"""Every error a user can meet. Each says where, what, and what to do.

SweeperError
├── ChainFileError      the chain file is wrong                 exit 3   .problems
├── AudioFileError      a sound file cannot be used             exit 3
├── SheetError          a recall sheet cannot be read           exit 3
├── PluginError         a plugin would not load or run          exit 4
│   ├── PluginMissing   no plugin of that name is installed
│   ├── SettingError    a setting is unknown, out of range, or did not stick
│   └── StateError      a saved state does not fit the plugin
├── MainMixFailed       an alternate has no settings to take    exit 4
├── RunFolderError      the results folder cannot be used       exit 5
├── StoreError          the store of steps cannot be used       exit 5
│   └── StoreDamaged    a stored step is missing or altered     .key
├── PrintError          a print cannot be made as asked         exit 3
├── OverCeiling         a print would be over its ceiling       exit 1
├── RecallMismatch      a master comes out other than it was    exit 6
├── AwaitingReturn      sound was sent out, and is not back     exit 7
└── Interrupted         Ctrl-C: finished variants are kept      exit 130
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One fault in a user's file.

    file: as the user wrote it. line, column: counted from 1; 0 = the file as a whole.
    what: the fault, with the offending value quoted. remedy: what to do about it.
    """

    file: str
    line: int
    column: int
    what: str
    remedy: str = ""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        return f"{place}: {self.what}" + (f"\n    {self.remedy}" if self.remedy else "")


class SweeperError(Exception):
    """Something the user can understand and mend."""

    exit_code = 70

    def __init__(self, what: str, remedy: str = "") -> None:
        super().__init__(what, remedy)
        self.what = what
        self.remedy = remedy

    def __str__(self) -> str:
        return self.what + (f"\n    {self.remedy}" if self.remedy else "")


class ChainFileError(SweeperError):
    """The chain file is wrong; `problems` lists every fault found."""

    exit_code = 3

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(map(str, problems)))
        self.problems = tuple(problems)

    def __reduce__(self) -> tuple[type[ChainFileError], tuple[tuple[Problem, ...]]]:
        return type(self), (self.problems,)


class AudioFileError(SweeperError):
    """A sound file cannot be read, or what is in it cannot be used."""

    exit_code = 3


class SheetError(SweeperError):
    """A recall sheet is missing, damaged, or of a newer version."""

    exit_code = 3


class PluginError(SweeperError):
    """A plugin would not load, or failed while it ran."""

    exit_code = 4


class PluginMissing(PluginError):
    """No installed plugin has the name that was asked for."""


class SettingError(PluginError):
    """A setting is unknown, out of range, in the wrong unit, or did not stick."""


class StateError(PluginError):
    """A saved state is damaged or belongs to another plugin."""


class MainMixFailed(SweeperError):
    """What was to be rendered with another mix's settings has none: that one failed. No plugin of it is to blame."""

    exit_code = 4


class RunFolderError(SweeperError):
    """The results folder cannot be written or read."""

    exit_code = 5


class PrintError(SweeperError):
    """What is to be printed cannot be printed as it was asked for."""

    exit_code = 3


class OverCeiling(SweeperError):
    """A print would come out over its ceiling, and is not to be trimmed."""

    exit_code = 1


class RecallMismatch(SweeperError):
    """A master was made again from its sheet, and does not sound as it did."""

    exit_code = 6


class StoreError(SweeperError):
    """The store of rendered steps cannot be made, written or read."""

    exit_code = 5


class StoreDamaged(StoreError):
    """A stored step is missing, cut short or altered: discard it and render it again. key: which one."""

    def __init__(self, key: str, fault: str) -> None:
        super().__init__(f"the stored step {key[:12]} {fault}", "run again: what is damaged is rendered anew")
        self.key = key
        self.fault = fault

    def __reduce__(self) -> tuple[type[StoreDamaged], tuple[str, str]]:
        return type(self), (self.key, self.fault)


class AwaitingReturn(SweeperError):
    """Sound was sent out of the machine, and has not come back yet."""

    exit_code = 7


class Interrupted(SweeperError):
    """The engineer pressed Ctrl-C; what was finished is kept."""

    exit_code = 130
