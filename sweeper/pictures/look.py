"""Colours, sizes and places on the page, 1200 x 900 px."""

from __future__ import annotations

WIDTH_PX, HEIGHT_PX = 1200, 900
LEFT_PX, RIGHT_PX = 64.0, 1136.0
#: Small, usual and large letters.
SMALL, USUAL, LARGE, TITLE = 11, 13, 20, 22

INK, FAINT_INK, GRID, EDGE, PAPER = "#1a1a1a", "#595959", "#e2e2e2", "#9a9a9a", "#ffffff"
#: Okabe and Ito, "Color Universal Design" (2008), from memory: told apart by all kinds of colour vision.
BLACK, ORANGE, SKY_BLUE, BLUE, VERMILLION = "#000000", "#e69f00", "#56b4e9", "#0072b2", "#d55e00"
WAVE = "#80868f"
#: Sections in turn.
TINTS = ("#f1eee4", "#e4dfcf")

INTEGRATED_DASH, TARGET_DASH = "7 4", "2 3"
