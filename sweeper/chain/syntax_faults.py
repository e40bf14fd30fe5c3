"""What the YAML reader stumbles over, in an engineer's words."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.reader import ReaderError

from sweeper.chain.decode import place
from sweeper.chain.faults import Faults
from sweeper.chain.model import Mark

QUOTE_IT = "put the whole text in quotes"
#: Where, what, what to do.
Fault = tuple[Mark, str, str]


def add_syntax_fault(error: Exception, text: str, faults: Faults) -> None:
    """Say at its place why the text could not be read; nothing else can be said of such a file."""
    if isinstance(error, MarkedYAMLError):
        faults.add(*_marked(error, text))
    elif isinstance(error, ReaderError):
        faults.add(place(text, error.position), "a character here cannot be part of a text file",
                   "delete it, or save the file as plain text (UTF-8)")
    elif isinstance(error, RecursionError):
        faults.add(None, "has brackets nested too deep", "look for brackets that are never closed")
    else:
        code = re.search(r"\\U", text)
        faults.add(place(text, code.start()) if code else None, *BACKSLASH)


COMMA = ("a comma is missing before this", "put a comma between the entries")
BACKSLASH = ("in double quotes a \\ starts a code", "use single quotes, and / in paths")


def _marked(error: MarkedYAMLError, text: str) -> Fault:
    """The first reading of the error that fits."""
    at = error.problem_mark or error.context_mark
    if at is None:
        return Mark(1, 1), *UNCLEAR
    index = min(at.index, len(text))
    found = _tab(text, index)
    for reading in READINGS:
        found = found or reading(error, text, index)
    return found or (place(text, index), *UNCLEAR)


UNCLEAR = ("this cannot be read", "look at the indentation, quotes and brackets here and on the line above")


def _tab(text: str, index: int) -> Fault | None:
    line_end = text.find("\n", index)
    tab = re.search(r"^ *\t[ \t]*(?=[^\s#])", text[: line_end if line_end >= 0 else len(text)], re.MULTILINE)
    if tab is None and text[index : index + 1] == "\t":
        return place(text, index), "there is a tab here", "use spaces"
    if tab is None:
        return None
    return place(text, tab.start()), "this line is indented with a tab", "indent with spaces"


def _quote(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    if error.context == "while scanning a quoted scalar" and error.context_mark is not None:
        start = error.context_mark.index
        return (place(text, start), f"the quote {text[start : start + 1]} opened here is never closed",
                "add the closing quote at the end of the text")
    if text[:index].rstrip(" ")[-1:] in ("'", '"') and "<scalar>" in str(error.problem):
        return (place(text, index), "text goes on after the closing quote",
                "put the whole text in quotes; inside '...' write '' for an apostrophe")
    return None


def _escape(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    if error.context == "while scanning a double-quoted scalar" or "escape" in str(error.problem):
        return place(text, max(text.rfind("\\", 0, index + 1), 0)), *BACKSLASH
    return None


def _colon(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    """A second colon on the line, or a line that does not fit under the one above."""
    if text[index : index + 1] != ":":
        return None
    before = text[text.rfind("\n", 0, index) + 1 : index]
    if re.search(r":\s", before):
        return place(text, index), "a ':' inside a text needs quotes", f"{QUOTE_IT}, e.g. \"EQ: Band\""
    return None


def _bracket(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    context, problem = str(error.context), str(error.problem)
    opened = error.context_mark.index if error.context_mark is not None else index
    if "<stream end>" in problem and text[opened : opened + 1] not in ("[", "{"):
        opened = max(text.rfind("[", 0, index), text.rfind("{", 0, index))
    if text[index : index + 1] == ":" and "flow" in context and _inside(text, opened, index):
        return _line_start(text, index), *COMMA
    ends = "<stream end>" in problem or (text[index : index + 1] == ":" and "flow" in context)
    if ends and opened >= 0 and text[opened] in "[{":
        return (place(text, opened), f"the bracket {text[opened]} opened here is never closed",
                f"add {dict(zip('[{', ']}', strict=True))[text[opened]]} where the entries end")
    if text[index : index + 1] in ("]", "}"):
        return (place(text, index), f"nothing is open that this {text[index]} could close",
                "take it out, or add the opening bracket")
    if "flow" in context and "expected ','" in problem:
        return place(text, index), *COMMA
    return None


def _inside(text: str, opened: int, index: int) -> bool:
    """Whether the line at `index` is indented under the one with the opening bracket."""
    return _line_start(text, index).column > _line_start(text, opened).column


def _line_start(text: str, index: int) -> Mark:
    """Where the first character stands that is no space on the line of `index`."""
    start = text.rfind("\n", 0, index) + 1
    return place(text, start + len(text[start:index]) - len(text[start:index].lstrip()))


def _start_character(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    if "cannot start any token" in str(error.problem):
        return place(text, index), f"a text cannot start with {text[index : index + 1]}", QUOTE_IT
    if "undefined alias" in str(error.problem) or str(error.context).endswith(("an alias", "an anchor")):
        return place(text, index), "a text that starts with * or & needs quotes", QUOTE_IT
    if "expected a comment or a line break" in str(error.problem) or "tag" in str(error.context):
        return place(text, index), "a text that starts with >, | or ! needs quotes", QUOTE_IT
    return None


def _second_document(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    if "another document" in str(error.problem):
        return place(text, index), "the line --- starts a second file", "take it out"
    if text.startswith("%"):
        return Mark(1, 1), "a line that starts with % is not read here", "take it out"
    return None


def _indentation(error: MarkedYAMLError, text: str, index: int) -> Fault | None:
    problem = str(error.problem)
    if "could not find expected ':'" in problem and error.context_mark is not None:
        return (place(text, error.context_mark.index), "this line has no ':' after its name",
                "write NAME: VALUE")
    if "sequence entries" in problem:
        return (place(text, index), "'- ' starts a list entry, which cannot stand here",
                "write -3 dB without a space; put list entries on lines of their own")
    if "not allowed here" in problem or "<block end>" in problem or "<document start>" in problem:
        return (place(text, index), "this line does not fit under the one above",
                "indent it like its neighbours, and check that the line above has its ':'")
    return None


READINGS: tuple[Callable[[Any, str, int], Fault | None], ...] = (
    _quote, _escape, _colon, _second_document, _bracket, _start_character, _indentation,
)  # fmt: skip
