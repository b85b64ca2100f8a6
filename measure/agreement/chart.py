"""A chart of an agreement study: its picture for any width, a caption of one sentence, and what it shows in words."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from matplotlib.figure import Figure

from measure.trend.apart import DPI
from measure.trend.chart import PHONE_PX, WIDE_PX

SHARPNESS = 3
"""Px of a PNG for each of the screen, as the chart of a series has them: 300 to the inch."""


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart that can be drawn.

    Attributes
    ----------
    key : str
        Names its file, as ``differences``.
    title : str
    caption : str
        One sentence that stands below it.
    words : str
        All that it shows, for those who don't see it.
    draw : callable
        Returns the figure for a width in px.
    about_people : bool
        Whether it tells about single raters, which the quality team alone sees.
    shows_photo : bool
        Whether a photo of a wound is in it.
    """

    key: str
    title: str
    caption: str
    words: str
    draw: Callable[[int], Figure]
    about_people: bool = False
    shows_photo: bool = False

    def picture(self, kind: Literal["svg", "png"], width: int = WIDE_PX) -> bytes:
        """Return the chart as a file."""
        file = io.BytesIO()
        options: dict[str, Any] = {"dpi": SHARPNESS * DPI} if kind == "png" else {"metadata": {"Date": None}}
        self.draw(width).savefig(file, format=kind, **options)
        return file.getvalue()


WIDTHS = (WIDE_PX, PHONE_PX)
"""For which pages and papers hold each chart, in px."""
