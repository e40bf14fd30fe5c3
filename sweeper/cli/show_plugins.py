"""One plugin's settings on the terminal, and a stage to paste."""

from __future__ import annotations

from pathlib import Path

from rich.markup import escape

from sweeper.cli.lines import columns
from sweeper.cli.streams import out
from sweeper.errors import PluginMissing
from sweeper.host.builtin_table import PREFIX
from sweeper.host.catalogue import find
from sweeper.host.described import Plugin, Setting


def show_plugin(plugin: Plugin) -> None:
    """One plugin: what it is, then every setting with its text at each tenth of its way."""
    console = out()
    words = [f"by {plugin.maker}" if plugin.maker else "", plugin.version, plugin.category,
             {1: "mono", 2: "stereo"}[plugin.channels],
             f"delay {plugin.latency_frames} frames" if plugin.latency_frames else "no delay"]  # fmt: skip
    console.print(f"[bold]{escape(plugin.name)}[/bold]  {escape(', '.join(w for w in words if w))}", soft_wrap=True)
    console.print(escape(plugin.path), style="dim", soft_wrap=True)
    if plugin.note:
        console.print(f"note: {escape(plugin.note)}", soft_wrap=True)
    table = columns("setting", "now", "unit")
    table.add_column("at 0 10 20 ... 100 % travel", style="dim", overflow="fold")
    for setting in plugin.settings:
        texts, between = (setting.choices, " | ") if setting.choices else (setting.texts, "  ")
        way = between.join(map(tidy, texts))
        table.add_row(escape(setting.name), escape(tidy(setting.text)), escape(setting.unit), escape(way))
    console.print(table)
    if plugin.hidden:
        console.print(f"not settings (the host's own, or meters): {escape(', '.join(plugin.hidden))}", style="dim",
                      soft_wrap=True)  # fmt: skip


def tidy(text: str) -> str:
    """A number without the zeros that pad it, to six figures; other text as it is."""
    try:
        return f"{float(text):.6g}"
    except ValueError:
        return text


def stage_text(plugin: Plugin) -> str:
    """A stage to paste under `inserts:` or `output:`, every setting as it stands now."""
    from sweeper.chain.template import yaml_text as scalar

    name = plugin.name.lower()
    lines = [f"  - name: {scalar(name)}", f"    plugin: {scalar(_as_named(plugin))}"]
    if plugin.channels == 1:
        lines.append("    channels: left/right   # it is mono; or mid/side, mid, side")
    if plugin.settings:
        lines.append("    settings:")
        lines += [f"      {scalar(s.name)}: {scalar(_value(s))}" for s in plugin.settings]
    return "\n".join(lines) + "\n"


def _as_named(plugin: Plugin) -> str:
    """How a chain file names it: by name where that finds the same file, else by its path."""
    if plugin.path.startswith(PREFIX):
        return plugin.path
    try:
        return plugin.name if find(plugin.name, Path.cwd()) == plugin.path else plugin.path
    except PluginMissing:
        return plugin.path


def _value(setting: Setting) -> str:
    text = tidy(setting.text)
    try:
        float(text)
    except ValueError:
        return text
    return f"{text} {setting.unit}".strip() if any(c.isalpha() or c == "%" for c in setting.unit) else text
