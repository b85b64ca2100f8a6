"""Words that don't touch: how wide they are, moved apart upward, or set in rows; all in px of the picture."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

DPI = 100
"""Px to the inch of a chart."""

LINE_PX = 1.3
"""Of the size of its letters, from one line of text to the next."""

_SLACK = 1.03  # letters that are set on whole pixels come out wider, up to 3 % in trial


def points(px: float) -> float:
    """Return a size in points, as matplotlib asks for it."""
    return px * 72 / DPI


@lru_cache(maxsize=2048)
def wide(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide words are, their longest line, whose letters have so many px."""
    font = FontProperties(size=size, weight="bold" if bold else "normal")
    widths = (text_to_path.get_text_width_height_descent(line, font, ismath=False)[0] for line in words.split("\n"))
    return float(max(widths)) * _SLACK


def upward(wanted: Sequence[float], tall: Sequence[float], high: float) -> list[float]:
    """Return middles near those wanted, lowest first, so far apart that what is so tall does not touch.

    What would reach above ``high`` is moved down; where there is no room for all, the lowest go below 0.
    """
    apart = [(one + other) / 2 for one, other in pairwise(tall)]
    middles = list(wanted)
    for number, least in enumerate(apart, 1):
        middles[number] = max(middles[number], middles[number - 1] + least)
    if middles:
        middles[-1] = min(middles[-1], high - tall[-1] / 2)
    for number in reversed(range(len(apart))):
        middles[number] = min(middles[number], middles[number + 1] - apart[number])
    return middles


def in_rows(middles: Sequence[float], widths: Sequence[float], between: float) -> list[int]:
    """Return for each of some words, from left to right, the first row in which it touches no other."""
    ends: list[float] = []
    rows = []
    for middle, width in zip(middles, widths, strict=True):
        row = next((row for row, end in enumerate(ends) if middle - width / 2 >= end + between), len(ends))
        ends[row : row + 1] = [middle + width / 2]
        rows.append(row)
    return rows


def flowing(widths: Sequence[float], room: float, between: float) -> list[tuple[float, int]]:
    """Return where things of such widths begin, and in which row, as words do in a paragraph so wide."""
    at, row = 0.0, 0
    places = []
    for width in widths:
        if at and at + width > room:
            at, row = 0.0, row + 1
        places.append((at, row))
        at += width + between
    return places
