"""The marks that a picture is made of, as SVG text; coordinates are px, to a tenth."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from sweeper.pictures.look import INK

#: Shares of the letter size that letters take, widest usual font (DejaVu Sans, from memory); others: OTHER_WIDTH.
WIDTHS = {"iljI.,:;|!'": 0.36, " ()[]/-frtJ": 0.42, "mwMW%@—−+<>=": 0.99, "ABCDEFGHKLNOPQRSTUVXYZ": 0.76}
OTHER_WIDTH = 0.65
WIDE_FROM = "\u1100"  # from here on letters fill a square: Hangul, Kana, Han
BOLD = 1.1


def number(value: float, decimals: int = 1) -> str:
    """A coordinate, without zeros at its end."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    return "0" if text == "-0" else text


def signed(value: float, decimals: int) -> str:
    """A measurement as it is read: a true minus sign, and none before zero."""
    text = f"{value:,.{decimals}f}"
    return text.lstrip("-") if not text.strip("-0.") else text.replace("-", "\u2212")


def text_width_px(text: str, size: int, bold: bool = False) -> float:
    """How wide a text is at most, in a usual sans-serif font."""
    return sum(map(_share, text)) * size * (BOLD if bold else 1.0)


def shortened(text: str, size: int, width_px: float, bold: bool = False) -> str:
    """The text, its end replaced by "…" where it is wider; empty when not even a letter fits."""
    if text_width_px(text, size, bold) <= width_px:
        return text
    while text and text_width_px(text + "…", size, bold) > width_px:
        text = text[:-1]
    return text.rstrip() + "…" if text else ""


def label(
    x_px: float, y_px: float, text: str, size: int, colour: str = INK, anchor: str = "start", bold: bool = False
) -> str:
    """A line of text on its baseline. anchor: start, middle or end."""
    weight = ' font-weight="bold"' if bold else ""
    place = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return (f'<text x="{number(x_px)}" y="{number(y_px)}" font-size="{size}" fill="{colour}"{place}{weight}>'
            f"{escape(printable(text))}</text>")  # fmt: skip


def line(
    x1_px: float, y1_px: float, x2_px: float, y2_px: float, colour: str, width: float = 1.0, dash: str = ""
) -> str:
    """A straight line."""
    return (f'<line x1="{number(x1_px)}" y1="{number(y1_px)}" x2="{number(x2_px)}" y2="{number(y2_px)}" '
            f'stroke="{colour}" stroke-width="{number(width)}"{_dashed(dash)}/>')  # fmt: skip


def box(
    left_px: float, top_px: float, right_px: float, bottom_px: float, fill: str = "none", stroke: str = "",
    told: str = "",
) -> str:  # fmt: skip
    """A rectangle. told: what is shown where the pointer rests on it."""
    outline = f' stroke="{stroke}"' if stroke else ""
    start = (f'<rect x="{number(left_px)}" y="{number(top_px)}" width="{number(right_px - left_px)}" '
             f'height="{number(bottom_px - top_px)}" fill="{fill}"{outline}')  # fmt: skip
    return f"{start}><title>{escape(printable(told))}</title></rect>" if told else f"{start}/>"


def curve(points_px: Iterable[tuple[float, float]], colour: str, width: float) -> str:
    """A line through points; a dot where there is one only."""
    points = list(points_px)
    if len(points) == 1:
        return dot(*points[0], width + 1, colour)
    places = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return (f'<polyline points="{places}" fill="none" stroke="{colour}" stroke-width="{number(width)}" '
            f'stroke-linejoin="round"/>')  # fmt: skip


def dot(x_px: float, y_px: float, radius_px: float, colour: str) -> str:
    """A filled circle."""
    return f'<circle cx="{number(x_px)}" cy="{number(y_px)}" r="{number(radius_px)}" fill="{colour}"/>'


def path(steps: str, fill: str = "none", stroke: str = "", width: float = 1.0) -> str:
    """A path of SVG's own commands."""
    outline = f' stroke="{stroke}" stroke-width="{number(width)}"' if stroke else ""
    return f'<path d="{steps}" fill="{fill}"{outline}/>'


def group(name: str, parts: Iterable[str]) -> str:
    """Marks that belong together, under a name that programs can find them by."""
    return "\n".join((f"<g id={quoteattr(name)}>", *parts, "</g>"))


def printable(text: str) -> str:
    """The text with what no XML file may hold replaced."""
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text)


def _dashed(dash: str) -> str:
    return f' stroke-dasharray="{dash}"' if dash else ""


def _share(letter: str) -> float:
    if letter >= WIDE_FROM and letter not in "…–—−":
        return 1.0
    return next((share for letters, share in WIDTHS.items() if letter in letters), OTHER_WIDTH)
