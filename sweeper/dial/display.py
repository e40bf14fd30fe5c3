"""Whether a window can be opened here, and what is to be done where one took its process down."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from sweeper.errors import PluginError

#: What X says before it ends a process that asked after a window that is not there.
_X_ERROR = "BadWindow"


def refuse_without_display() -> None:
    """Raises PluginError where the system has no display to open a window on."""
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        raise PluginError("there is no display here: DISPLAY is not set",
                          "log in at the machine's own screen, or set DISPLAY to an X server")  # fmt: skip


def died_of_x(said: Sequence[str]) -> bool:
    """Whether a window's process was ended by X for want of a settings manager, by the last lines that it printed."""
    return sys.platform.startswith("linux") and any(_X_ERROR in line for line in said)


#: What to do then.
START_ONE = ("windows of plugins need an XSETTINGS manager, which desktops bring along; without a desktop install "
             "xsettingsd and start it first: xsettingsd -c FILE, FILE holding one line: Net/ThemeName \"none\"")
