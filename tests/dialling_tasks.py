"""What workers do for the tests of dialling: a hand that turns controls without a screen, and the loop as samples."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.dial import window_task
from sweeper.dial.orders import Closed, WindowOrder
from sweeper.errors import PluginError
from sweeper.host.effect import open_effect
from sweeper.host.settings import control_named
from sweeper.host.vst3 import Vst3Plugin
from sweeper.host.window import show_window
from sweeper.workers import Report


@dataclass(frozen=True)
class ByHand:
    """A window and what is done in it: control -> position; then it stays open for `open_s`, or until it is to close.

    fails: what the window raises instead.
    """

    order: WindowOrder
    turned: Mapping[str, float]
    open_s: float = 0.2
    fails: str = ""


def dialled(hand: ByHand, report: Report) -> Closed:
    """The window's task, with a hand in place of the screen."""

    def show(plugin: Vst3Plugin, closing: threading.Event) -> None:
        if hand.fails:
            raise PluginError(hand.fails)
        time.sleep(0.1)  # no hand is quicker than the first blocks
        for name, raw in hand.turned.items():
            control_named(plugin.controls, name).put(raw)
        end_s = time.monotonic() + hand.open_s
        while not closing.is_set() and time.monotonic() < end_s:
            time.sleep(0.01)

    shown, window_task.show_window = window_task.show_window, show
    try:
        return window_task.open_window(hand.order, report)
    finally:
        window_task.show_window = shown


def window_of(path: str, report: Report) -> None:
    """Open the window of the plugin at a path, on whatever display there is."""
    show_window(open_effect(path), threading.Event())
