"""The page in one file: styles, data, worklet and scripts joined into the template, so that it needs nothing else."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

PAGE = Path(__file__).with_name("page")
ORDER = "order.txt"
WORKLET = "worklet.js"
STYLE_MARK, DATA_MARK, WORKLET_MARK, SCRIPT_MARK = "<!--style-->", "<!--data-->", "<!--worklet-->", "<!--script-->"
#: What would end the element that a script or a style stands in.
ENDS = re.compile(r"</(script|style)|<!--", re.IGNORECASE)


def assembled(manifest: Mapping[str, Any], page: Path | None = None) -> str:
    """The whole page as HTML.

    page: a folder (None = our own) with page.html, which has each of the four marks once; order.txt, a name a line, the
    order of the scripts; styles (*.css, by name); worklet.js. Raises ValueError when a mark is missing or a file would
    break out of its element, which is a fault of ours.
    """
    page = page or PAGE
    template = (page / "page.html").read_text("utf-8")
    scripts = [page / name for name in (page / ORDER).read_text("utf-8").split()]
    parts = {
        STYLE_MARK: f"<style>\n{_joined(sorted(page.glob('*.css')))}</style>",
        DATA_MARK: f'<script type="application/json" id="audition">{data_text(manifest)}</script>',
        WORKLET_MARK: f'<script type="text/plain" id="worklet">\n{_joined([page / WORKLET])}</script>',
        SCRIPT_MARK: f'<script type="module">\n{_joined(scripts)}</script>',
    }
    for mark in parts:
        if template.count(mark) != 1:
            raise ValueError(f"page.html has {mark} {template.count(mark)} times, not once")
    pieces = re.split("(" + "|".join(map(re.escape, parts)) + ")", template)
    return "".join(parts.get(piece, piece) for piece in pieces)


def data_text(manifest: Mapping[str, Any]) -> str:
    """JSON that can stand in a script element whatever texts are in it. Raises ValueError for what is not finite."""
    text = json.dumps(manifest, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def _joined(files: list[Path]) -> str:
    texts = []
    for file in files:
        text = file.read_text("utf-8")
        if ENDS.search(text):
            raise ValueError(f"{file.name} holds what would end its element in the page")
        texts.append(text.rstrip("\n") + "\n")
    return "".join(texts)
