"""`sweeper audition`: the variants of a run, heard equally loud, in the browser, from a folder, or as files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.options import json_option, quiet_option, workers_option_of

if TYPE_CHECKING:
    from sweeper.audition.gathered import Gathered
    from sweeper.workers import Pool

NEW_FOLDER = click.Path(path_type=Path)


@click.command()
@click.argument("run_folder", type=click.Path(path_type=Path), metavar="RUN")
@click.argument("variants", nargs=-1, metavar="[VARIANT]...")
@click.option("--match-over", "match_over", multiple=True, metavar="SECTION",
              help="Match levels over this section instead of the run's own; may be given again.")
@click.option("--preview", is_flag=True,
              help="Hear the picks (or the variants named, or each mix's first) through MP3, Vorbis and Opus too.")
@click.option("--export", "export_to", type=NEW_FOLDER, metavar="FOLDER",
              help="Write a folder that opens from disk, with nothing private in it; serve nothing.")
@click.option("--with-settings", is_flag=True, help="Tell settings and stages in the exported folder too.")
@click.option("--files", "files_to", type=NEW_FOLDER, metavar="FOLDER",
              help="Write equally loud WAV files under blind names, and their key beside; serve nothing.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), metavar="N", help="Of the shuffle of --files; else chance.")
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
@click.option("--port", type=click.IntRange(1024, 65535), metavar="N", help="Else the run's own, or one that is free.")
@workers_option_of("How many files are looked at side by side.")
@quiet_option
@json_option
def audition(run_folder: Path, variants: tuple[str, ...], match_over: tuple[str, ...], preview: bool,
             export_to: Path | None, with_settings: bool, files_to: Path | None, seed: int | None, no_browser: bool,
             port: int | None, workers: int, quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Hear the variants of RUN equally loud, blind if wanted, and write down the choice. Ctrl-C ends it.

    \b
        sweeper audition results/2026-11-25-lantern-bay
        sweeper audition results/2026-11-25-lantern-bay 002 005 --match-over "last chorus" --preview
        sweeper audition results/2026-11-25-lantern-bay --export lantern-bay-for-the-band

    Without VARIANT: those that are kept. Begin with your monitors turned down.
    """
    _refuse_contradictions(export_to, with_settings, files_to, seed, no_browser, port)
    from sweeper.cli.progress import working
    from sweeper.workers import Pool

    with working("looking at the sound", quiet or as_json), Pool(workers) as pool:
        ready = _gathered(run_folder, variants, match_over, preview, pool)
    from sweeper.cli.show_audition import show_exported, show_files, show_warnings

    show_warnings(ready, quiet)
    if export_to is not None:
        from sweeper.audition.export import export

        with working("writing the folder", quiet or as_json):
            exported = export(ready, export_to, with_settings)
        show_exported(ready, exported, as_json)
        return 0
    if files_to is not None:
        from sweeper.audition.blind_files import write_blind

        with working("writing the files", quiet or as_json):
            written = write_blind(ready, files_to, seed)
        show_files(ready, written, as_json)
        return 0
    return _serve(ready, port, not no_browser, as_json)


def _refuse_contradictions(export_to: Path | None, with_settings: bool, files_to: Path | None, seed: int | None,
                           no_browser: bool, port: int | None) -> None:  # fmt: skip
    """Raises UsageError for options that say two things."""
    if export_to is not None and files_to is not None:
        raise click.UsageError("--export and --files write different folders: ask for one at a time")
    if (export_to is not None or files_to is not None) and (no_browser or port is not None):
        raise click.UsageError("--no-browser and --port are for serving: leave them out with --export and --files")
    if with_settings and export_to is None:
        raise click.UsageError("--with-settings belongs to --export")
    if seed is not None and files_to is None:
        raise click.UsageError("--seed belongs to --files")


def _gathered(run_folder: Path, variants: tuple[str, ...], match_over: tuple[str, ...], preview: bool,
              pool: Pool) -> Gathered:  # fmt: skip
    from sweeper.audition.gathered import gathered
    from sweeper.audition.heard import heard
    from sweeper.audition.picked import to_preview

    previews = to_preview(heard(run_folder, variants), variants) if preview else ()
    return gathered(run_folder, variants, match_over, pool, previews)


def _serve(ready: Gathered, port: int | None, browser: bool, as_json: bool) -> int:
    """Serve until Ctrl-C, which is the way to end it."""
    import webbrowser

    from sweeper.audition.server import Served
    from sweeper.audition.serving import offered
    from sweeper.cli.show_audition import show_ended, show_served

    offer = offered(ready)
    with Served(offer, port or 0) as served:
        show_served(ready, served.address, as_json)
        if browser:
            webbrowser.open(served.address)
        served.run()
    if not as_json:
        show_ended(offer.notebook)
    return 0
