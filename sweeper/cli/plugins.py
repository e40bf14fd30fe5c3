"""`sweeper plugins`: what is installed, and one plugin's settings."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, patience_option


@click.command()
@click.argument("name", required=False)
@click.option("--as-stage", is_flag=True, help="Print a stage of NAME to paste into a chain file.")
@patience_option
@json_option
def plugins(name: str | None, as_stage: bool, patience_s: float, as_json: bool) -> int:
    """List the installed plugins without loading any; with NAME, load that one and show its settings.

    \b
        sweeper plugins
        sweeper plugins "builtin:BrickwallLimiter"
        sweeper plugins "My Compressor" --as-stage

    Looks in the system's own folders and in those of SWEEPER_PLUGIN_PATH. NAME is a name, a path or builtin:NAME.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.show_plugins import catalogue_data, show_catalogue, show_plugin, stage_text
    from sweeper.host.describing import described

    if name is None:
        if as_stage:
            raise click.UsageError("--as-stage needs the NAME of a plugin.")
        print_json(catalogue_data()) if as_json else show_catalogue()
        return 0
    plugin = described(name, Path.cwd(), patience_s)
    if as_json:
        import dataclasses

        print_json({"schema": 1, "plugin": dataclasses.asdict(plugin)})
    elif as_stage:
        click.echo(stage_text(plugin), nl=False)
    else:
        show_plugin(plugin)
    return 0
