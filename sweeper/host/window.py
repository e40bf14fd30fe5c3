"""A plugin's own window. Imported in workers only: it opens in the main thread of the process, and can take it down."""

from __future__ import annotations

import ctypes
import sys
import threading
from functools import cache

from sweeper.errors import PluginError
from sweeper.host.effect import Effect
from sweeper.host.vst3 import Vst3Plugin


def show_window(effect: Effect, closing: threading.Event) -> None:
    """Open the plugin's window and come back once it is closed, by its user or by `closing`.

    closing: its is_set() is called some hundred times a second between the window's own work, in this thread.
    Raises PluginError when there is no window to open, or no display to open it on.
    """
    if not isinstance(effect, Vst3Plugin):
        raise PluginError(f"{effect.name} has no window", "write its settings into the chain file")
    if sys.platform.startswith("linux"):
        _live_through_x_errors()
    try:
        effect._plugin.show_editor(closing)
    except (RuntimeError, ValueError, TypeError) as exc:
        no_display = "display" in str(exc)
        raise PluginError(
            f"the window of {effect.name} cannot be opened: {exc}",
            "log in at the machine itself, or set DISPLAY" if no_display
            else "write its settings into the chain file; `sweeper plugins NAME` lists them",
        ) from exc  # fmt: skip


@cache
def _live_through_x_errors() -> object:
    """Xlib ends the process at any error, and the library makes one where no XSETTINGS manager runs, or as a window
    closes: take each for a request that came to nothing. Returns the handler, which has to stay.

    Source: Xlib, "Using the Default Error Handlers"; an error handler's value is not looked at.
    """
    try:
        xlib = ctypes.CDLL("libX11.so.6")
    except OSError:  # then nobody here speaks to an X server
        return None
    handler = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)(lambda display, error: 0)
    xlib.XSetErrorHandler(handler)
    return handler
