"""The catalogue and one plugin's settings on the terminal, and a stage to paste."""

from __future__ import annotations

from rich.markup import escape
from rich.table import Table

from sweeper.cli.streams import err, out
from sweeper.host.builtin_table import BUILTINS, PREFIX
from sweeper.host.catalogue import installed, standard_folders
from sweeper.host.described import Plugin, Setting


def catalogue_data() -> dict[str, object]:
    """The catalogue for `plugins --json`."""
    return {
        "schema": 1,
        "folders": [str(folder) for folder in standard_folders()],
        "installed": [
            {"name": p.name, "path": str(p.path), "format": p.format, "maker": p.maker or None,
             "version": p.version or None, "contains": list(p.names), "fault": p.fault or None}
            for p in installed()
        ],
        "builtin": [{"name": PREFIX + b.name, "category": b.category, "note": b.note or None} for b in BUILTINS],
    }  # fmt: skip


def show_catalogue() -> None:
    """Every installed plugin, then the built-in effects."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for heading in ("plugin", "format", "where"):
        table.add_column(heading, overflow="fold")
    for plugin in installed():
        fault = f"[red]{escape(plugin.fault)}[/red]"
        table.add_row(escape(plugin.name), plugin.format, fault if plugin.fault else escape(str(plugin.path.parent)))
    for builtin in BUILTINS:
        table.add_row(PREFIX + builtin.name, "built in", builtin.category)
    out().print(table)
    if not installed():
        folders = "\n    ".join(str(folder) for folder in standard_folders())
        err().print(f"no plugin is installed in\n    {escape(folders)}", soft_wrap=True)


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
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for heading, style in (("setting", ""), ("now", ""), ("unit", ""), ("at 0 10 20 ... 100 % travel", "dim")):
        table.add_column(heading, style=style, overflow="fold")
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
    named = [found for found in installed() if found.name == plugin.name]
    return plugin.name if named and str(named[0].path) == plugin.path else plugin.path


def _value(setting: Setting) -> str:
    text = tidy(setting.text)
    try:
        float(text)
    except ValueError:
        return text
    return f"{text} {setting.unit}".strip() if any(c.isalpha() or c == "%" for c in setting.unit) else text
