"""`sweeper plugins`: what is installed, and one plugin's settings."""

from __future__ import annotations

from pathlib import Path

import click
from click.core import ParameterSource

from sweeper.cli.options import json_option, patience_option, quiet_option, workers_option_of


@click.command()
@click.argument("name", required=False)
@click.option("--as-stage", is_flag=True, help="Print a stage of NAME to paste into a chain file.")
@click.option("--load-all", is_flag=True, help="Load every plugin once, each in a process of its own, and remember it.")
@click.option("--again", is_flag=True, help="With --load-all: also those that are known as they are.")
@workers_option_of("With --load-all: how many plugins are loaded side by side.")
@patience_option
@quiet_option
@json_option
def plugins(name: str | None, as_stage: bool, load_all: bool, again: bool, workers: int, patience_s: float, quiet: bool,
            as_json: bool) -> int:  # fmt: skip
    """List the installed plugins without loading any; with NAME, load that one and show its settings.

    \b
        sweeper plugins
        sweeper plugins --load-all
        sweeper plugins "builtin:BrickwallLimiter"
        sweeper plugins "My Compressor" --as-stage

    Looks in the system's own folders and in those of SWEEPER_PLUGIN_PATH. NAME is a name, a path, PATH::NAME for one of
    several in a file, or builtin:NAME.
    """
    _refuse_nonsense(name, as_stage, load_all, again)
    if name is None:
        return _catalogue(workers, patience_s, again, quiet, as_json, load_all)
    from sweeper.cli.answers import print_json
    from sweeper.cli.show_plugins import show_plugin, stage_text
    from sweeper.host.describing import described

    plugin = described(name, Path.cwd(), patience_s)
    if as_json:
        import dataclasses

        print_json({"schema": 1, "plugin": dataclasses.asdict(plugin)})
    elif as_stage:
        click.echo(stage_text(plugin), nl=False)
    else:
        show_plugin(plugin)
    return 0


def _refuse_nonsense(name: str | None, as_stage: bool, load_all: bool, again: bool) -> None:
    if name is None and as_stage:
        raise click.UsageError("--as-stage needs the NAME of a plugin.")
    if name is not None and load_all:
        raise click.UsageError("--load-all loads every plugin: leave out NAME.")
    if again and not load_all:
        raise click.UsageError("--again goes with --load-all.")
    if click.get_current_context().get_parameter_source("workers") is ParameterSource.COMMANDLINE and not load_all:
        raise click.UsageError("--workers goes with --load-all.")


def _catalogue(workers: int, patience_s: float, again: bool, quiet: bool, as_json: bool, load_all: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.load_plugins import load_plugins, summary
    from sweeper.cli.show_catalogue import catalogue_data, show_catalogue
    from sweeper.cli.streams import out

    came = load_plugins(workers, patience_s, again, quiet or as_json) if load_all else []
    if as_json:
        print_json(catalogue_data())
        return 0
    show_catalogue()
    if load_all:
        out().print(summary(came))
    return 0
