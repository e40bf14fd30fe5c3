"""What an audition has to say on the terminal, or as JSON: where it is, how much sound, what was left out."""

from __future__ import annotations

from collections.abc import Mapping

from sweeper.audition.blind_files import Written
from sweeper.audition.export import Exported
from sweeper.audition.gathered import Gathered, Ready
from sweeper.audition.heard import Kind
from sweeper.audition.manifest import CAUTION
from sweeper.audition.notebook import Notebook
from sweeper.audition.preview import playback_data
from sweeper.cli.answers import print_json
from sweeper.cli.lines import columns, say
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import err, out
from sweeper.records.picks import VERDICTS, Picks
from sweeper.table.picks import rated_words, unfinished_words
from sweeper.units import clock


def show_warnings(ready: Gathered, quiet: bool) -> None:
    """What was left out, on stderr."""
    for words in () if quiet else ready.warnings:
        say(err(), f"note: {words}")


def show_served(ready: Gathered, address: str, as_json: bool) -> None:
    """Where the page is, before it is served."""
    if as_json:
        print_json({**_data(ready), "address": address})
        return
    say(out(), f"{_sounds(ready)}; matched over {_stretch(ready)}")
    show_previews(ready)
    say(out(), "the sound is read from the disk as it is played; nothing leaves this machine")
    say(out(), CAUTION)
    say(out(), "Ctrl-C ends it; notes are saved as you go")
    out().print(address, soft_wrap=True, style="bold")


def show_ended(notebook: Notebook) -> None:
    """What was decided, once the page is no longer served."""
    document = Picks.from_data(notebook.read())
    if not document.revision:
        say(out(), "nothing was written down")
        return
    picked = document.of_variants
    counted = {word: [id for id, one in picked.items() if one.verdict == word] for word in VERDICTS}
    told = [f"{word}: {', '.join(sorted(ids))}" for word, ids in counted.items() if ids]
    say(out(), f"{'; '.join(told) or 'notes, no picks'}  ({shown_path(notebook.path)})")
    for id, one in sorted(document.of_others.items()):
        if one.verdict:
            say(out(), rated_words(id, one))
    for begun in document.unfinished:
        say(out(), f"{unfinished_words(begun)}; it goes on in the next audition")


def show_exported(ready: Gathered, exported: Exported, as_json: bool) -> None:
    """What was written, and how it comes back."""
    if as_json:
        print_json({**_data(ready), "page": str(exported.page), "bytes": exported.bytes})
        return
    say(out(), f"{_sounds(ready)}; matched over {_stretch(ready)}")
    say(out(), f"{shown_path(exported.page)}  ({_size(exported.bytes)}; opens from disk, needs no network)")
    say(out(), f"picks come back as a file: `sweeper shortlist {shown_path(ready.heard.run.path)} --picks FILE`")


def show_files(ready: Gathered, written: Written, as_json: bool) -> None:
    """What was written, without saying which is which."""
    if as_json:
        print_json({**_data(ready), "folder": str(written.folder), "key": str(written.key), "seed": written.seed,
                    "files": [one.name for one in written.files], "bytes": written.bytes})  # fmt: skip
        return
    say(out(), f"{shown_path(written.folder)}: {len(written.files)} files, {_size(written.bytes)}, 32-bit float, "
               f"aligned, equally loud over {_stretch(ready)}")  # fmt: skip
    show_previews(ready)
    say(out(), f"which is which: {shown_path(written.key)}  (the untouched mix is among them)")


def show_previews(ready: Gathered) -> None:
    """What each codec does to the peak, as a table."""
    by_id = {one.found.id: one for one in ready.sounds}
    table = columns("preview", "", "dBTP before", "after", "normalised", right=(2, 3, 4))
    for one in ready.sounds:
        if one.found.kind is Kind.PREVIEW:
            before = by_id[one.found.of].look.measured["true_peak_dbtp"]
            after = one.look.measured["true_peak_dbtp"]
            peaks = ["" if peak is None else f"{peak:+.2f}" for peak in (before, after)]
            table.add_row(one.found.name, one.note, *peaks, _normalised(one))
    if table.row_count:
        out().print(table)


def _normalised(one: Ready) -> str:
    """-16 LUFS: -2.0 dB, what a player that normalises music does."""
    levels = playback_data(one.look.measured)
    return f"{levels[0]['level_lufs']:g} LUFS: {levels[0]['gain_db']:+.1f} dB" if levels else ""


def _data(ready: Gathered) -> Mapping[str, object]:
    sounds = [{"id": one.found.id, "kind": one.found.kind.value, "name": one.found.name, "mix": mix.heard.number,
               "file": str(one.file), "match_gain_db": one.gain_db, "note": one.note,
               "true_peak_dbtp": one.look.measured["true_peak_dbtp"]}
              for mix in ready.mixes for one in mix.sounds]  # fmt: skip
    return {"schema": 1, "run": str(ready.heard.run.path), "identity": ready.heard.identity, "sounds": sounds,
            "matched_over": list(ready.matched_over), "sound_bytes": _sound_bytes(ready),
            "warnings": list(ready.warnings)}  # fmt: skip


def _sounds(ready: Gathered) -> str:
    """4 variants, the mix and 1 reference of 1:30.0; 130 MB of sound."""
    counted = {kind: sum(one.found.kind is kind for one in ready.sounds) for kind in Kind}
    longest_s = max(mix.frames / mix.rate_hz for mix in ready.mixes)
    words = [f"{counted[kind]} {kind.value if kind is not Kind.MIX or counted[kind] > 1 else 'mix'}"
             f"{'s' if counted[kind] > 1 and kind is not Kind.MIX else 'es' if counted[kind] > 1 else ''}"
             for kind in Kind if counted[kind]]  # fmt: skip
    return f"{', '.join(words)}, up to {clock(longest_s)}; {_size(_sound_bytes(ready))} of sound"


def _sound_bytes(ready: Gathered) -> int:
    return sum(one.file.stat().st_size for one in ready.sounds)


def _stretch(ready: Gathered) -> str:
    return " and ".join(ready.matched_over) or "the whole"


def _size(bytes: int) -> str:
    return f"{bytes / 1e9:.1f} GB" if bytes >= 1e9 else f"{max(1, round(bytes / 1e6))} MB"
