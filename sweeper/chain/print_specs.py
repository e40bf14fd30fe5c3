"""Specs of what is delivered: those that come along, and the user's own files; every fault at its place."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import as_file, files
from pathlib import Path

from sweeper.audio import Word
from sweeper.chain.decode import read_text
from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import Faults
from sweeper.chain.file_names import read_pattern
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.other_files import retold
from sweeper.chain.print_model import DITHERS, LOSSLESS, LOSSY, PATTERN, PrintSpec
from sweeper.chain.shapes import Field, fields, folded, single
from sweeper.chain.values import read_amount, read_switch
from sweeper.errors import ChainFileError, Problem
from sweeper.units import parse_amount, same_unit

#: The folder of specs that comes along.
FOLDER = "prints"
ENDING = ".yaml"
BEGIN = "begin with e.g. format: WAV"
WORDS = {
    "16 bit": Word.PCM_16,
    "16-bit": Word.PCM_16,
    "24 bit": Word.PCM_24,
    "24-bit": Word.PCM_24,
    "32-bit float": Word.FLOAT_32,
    "32 bit float": Word.FLOAT_32,
    "float": Word.FLOAT_32,
}
#: Rates that a format can hold, in Hz; the others take any.
RATES_HZ = {"MP3": (32000, 44100, 48000), "Opus": (48000,)}
MOST_FLAC_HZ = 655350
LEAST_RATE_HZ, MOST_RATE_HZ = 8000, 768000
KBPS = {"MP3": (32.0, 320.0), "Opus": (12.0, 512.0)}
VORBIS_QUALITY = (0.0, 10.0)


def spec_names() -> tuple[str, ...]:
    """The names of the specs that come along."""
    return tuple(
        sorted(
            each.name.removesuffix(ENDING)
            for each in files("sweeper.chain").joinpath(FOLDER).iterdir()
            if each.name.endswith(ENDING)
        )
    )


def is_file_name(written: str) -> bool:
    """Whether a spec is named by its file, and not by the name of one that comes along."""
    return written.lower().endswith((ENDING, ".yml")) or "/" in written or "\\" in written


def find_spec(written: str, folder: Path) -> PrintSpec:
    """The spec of that name, or in that file as seen from `folder`.

    Raises ChainFileError with every fault of its file, or where there is no spec of that name.
    """
    if is_file_name(written):
        return load_spec(folder / Path(written).expanduser(), written)
    name = next((name for name in spec_names() if folded(name) == folded(written)), None)
    if name is None:
        problem = Problem("", 0, 0, f"no print spec is called {quoted(written)}", unknown_remedy(written))
        raise ChainFileError([problem])
    with as_file(files("sweeper.chain").joinpath(FOLDER, name + ENDING)) as path:
        return load_spec(path, str(path))


def unknown_remedy(written: str) -> str:
    """What to do about a spec that is none."""
    return f"{suggestion(written, spec_names())}; a spec of your own is named by its file, MINE.yaml"


def load_spec(path: Path, written: str) -> PrintSpec:
    """The spec in a file. written: as the user named it. Raises ChainFileError with every fault of the file."""
    faults = Faults(written)
    text = read_text(path, faults)
    document = read_document(text, faults) if text is not None else None
    if document is not None and document.pairs is None:
        faults.add(document.mark, f"the spec is {document.kind}, not a mapping", BEGIN)
    spec = _spec(path.stem, document, faults) if document is not None and document.pairs is not None else None
    if spec is None or faults:
        raise ChainFileError([retold(problem, "print spec", BEGIN) for problem in faults.problems])
    return spec


def _spec(name: str, document: Node, faults: Faults) -> PrintSpec | None:
    known = fields(document, "print spec", "the print spec", faults)
    kind = _one_of(known, "format", (*LOSSLESS, *LOSSY), faults)
    if "format" not in known:
        faults.add(document.mark, "the spec names no format", f"add format: {', '.join((*LOSSLESS, *LOSSY))}")
    about = single(known["about"].value, "about", faults) if "about" in known else ""
    rate_hz = _rate_hz(known, kind, faults)
    word, dither, as_rendered = _word(known, kind, faults), _dither(known, kind, faults), _as_rendered(known, faults)
    kbps, quality = _kbps(known, kind, faults), _quality(known, kind, faults)
    ceiling_dbtp = read_amount(known["ceiling"].value, "ceiling", "dBTP", faults) if "ceiling" in known else None
    pattern = read_pattern(known["name"], faults) if "name" in known else PATTERN
    if as_rendered:
        _check_as_rendered(known, kind, word, rate_hz, faults)
    if word is Word.FLOAT_32 and dither not in (None, "none"):
        faults.add(known["dither"].value.mark, "32-bit float is not rounded: nothing is dithered", "take 'dither' out")
    if dither == "shaped" and rate_hz not in (None, 44100, 48000):
        faults.add(
            known["dither"].value.mark,
            f"shaped dither is made for 44.1 and 48 kHz, not for {rate_hz} Hz",
            "write dither: tpdf",
        )
    if kind is None:
        return None
    rounded = word in (Word.PCM_16, Word.PCM_24)
    return PrintSpec(
        name,
        about or "",
        kind,
        rate_hz,
        word,
        dither or ("tpdf" if rounded else "none"),
        ceiling_dbtp,
        as_rendered,
        kbps,
        quality,
        pattern or PATTERN,
    )


def _one_of(known: Mapping[str, Field], key: str, valid: tuple[str, ...], faults: Faults) -> str | None:
    text = single(known[key].value, key, faults, f"write {', '.join(valid)}") if key in known else None
    if text is None:
        return None
    found = next((one for one in valid if folded(one) == folded(text)), None)
    if found is None:
        faults.add(known[key].value.mark, f"{key} is {quoted(text)}", suggestion(text, valid))
    return found


def _rate_hz(known: Mapping[str, Field], kind: str | None, faults: Faults) -> int | None:
    remedy = "write e.g. 44.1 kHz, or 'mix' for the mix's own rate"
    text = single(known["rate"].value, "rate", faults, remedy) if "rate" in known else "mix"
    if text is None or text.casefold() == "mix":
        return None
    amount = parse_amount(text)
    rate_hz = same_unit(amount, "Hz") if amount is not None and amount.unit else None
    if rate_hz is None or rate_hz != round(rate_hz) or not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
        faults.add(known["rate"].value.mark, f"rate is {quoted(text)}", remedy)
        return None
    fault = rate_fault(kind, round(rate_hz))
    if fault:
        faults.add(known["rate"].value.mark, *fault)
    return round(rate_hz)


def rate_fault(kind: str | None, rate_hz: int) -> tuple[str, str] | None:
    """Why a format cannot hold a rate, and the remedy; None where it can."""
    held = RATES_HZ.get(kind or "")
    if held and rate_hz not in held:
        rates = " or ".join(f"{each / 1000:g} kHz" for each in held)
        return f"{kind} holds no {rate_hz / 1000:g} kHz", f"write rate: {rates}"
    return None


def _word(known: Mapping[str, Field], kind: str | None, faults: Faults) -> Word | None:
    if kind in LOSSY:
        if "word" in known:
            faults.add(known["word"].mark, f"{kind} has no word length", "take 'word' out")
        return None
    found = _one_of(known, "word", tuple(WORDS), faults)
    if found is None:
        if "word" not in known and kind is not None:
            faults.add(known["format"].mark, f"this {kind} file has no word length", "add word: 24 bit")
        return None
    word = WORDS[found]
    if word is Word.FLOAT_32 and kind in ("FLAC", "AIFF"):
        faults.add(
            known["word"].value.mark,
            f"{kind} files are printed with 16 or 24 bit",
            "write word: 24 bit, or format: WAV",
        )
    return word


def _dither(known: Mapping[str, Field], kind: str | None, faults: Faults) -> str | None:
    found = _one_of(known, "dither", DITHERS, faults)
    if found not in (None, "none") and kind in LOSSY:
        faults.add(known["dither"].mark, "lossy encoders get the sound undithered", "take 'dither' out")
    return found


def _as_rendered(known: Mapping[str, Field], faults: Faults) -> bool:
    return "as rendered" in known and bool(read_switch(known["as rendered"].value, "as rendered", faults))


def _check_as_rendered(
    known: Mapping[str, Field], kind: str | None, word: Word | None, rate_hz: int | None, faults: Faults
) -> None:
    if kind != "WAV" or word is not Word.FLOAT_32 or rate_hz is not None:
        faults.add(
            known["as rendered"].mark,
            "a render is a 32-bit float WAV file at the mix's rate: anything else changes it",
            "write format: WAV, word: 32-bit float and rate: mix, or take 'as rendered' out",
        )
    if "ceiling" in known:
        faults.add(known["ceiling"].mark, "what is printed as rendered is not trimmed to a ceiling", "take it out")


def _kbps(known: Mapping[str, Field], kind: str | None, faults: Faults) -> float | None:
    key = "bit rate"
    if kind not in KBPS:
        if key in known and kind is not None:
            hint = "write quality: 0 to 10" if kind == "Vorbis" else "take it out"
            faults.add(known[key].mark, f"{kind} has no bit rate to set", hint)
        return None
    least, most = KBPS[kind]
    if key not in known:
        faults.add(
            known["format"].mark,
            f"this {kind} file has no bit rate",
            f"add bit rate: {160 if kind == 'Opus' else 320} kbps",
        )
        return None
    text = single(known[key].value, key, faults, f"write {least:g} to {most:g} kbps")
    amount = parse_amount(text) if text is not None else None
    if (
        amount is None
        or amount.unit.lower().replace(" ", "") not in ("kbps", "kbit/s")
        or not least <= amount.value <= most
    ):
        if text is not None:
            faults.add(known[key].value.mark, f"bit rate is {quoted(text)}", f"write {least:g} to {most:g} kbps")
        return None
    return amount.value


def _quality(known: Mapping[str, Field], kind: str | None, faults: Faults) -> float | None:
    if kind != "Vorbis":
        if "quality" in known and kind is not None:
            faults.add(known["quality"].mark, f"{kind} has no quality to set", "take it out")
        return None
    if "quality" not in known:
        faults.add(known["format"].mark, "this Vorbis file has no quality", "add quality: 6")
        return None
    least, most = VORBIS_QUALITY
    value = read_amount(known["quality"].value, "quality", "", faults)
    if value is not None and not least <= value <= most:
        faults.add(known["quality"].value.mark, f"quality is {value:g}", f"write {least:g} to {most:g}")
    return value
