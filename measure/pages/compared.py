"""Two visits as the page compares them, laid over one another once: all pages keep the last few pairs."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import streamlit as st
from shapely.geometry import Polygon

from measure.compare.advance import Advance, Doubt, advance
from measure.compare.advance_chart import advance_chart, png
from measure.compare.fitting import Fit
from measure.compare.laid_out import LaidOut, Traced, lay_out, precision_of, without_sticker
from measure.compare.pair import Pictures, aligned
from measure.kept_photos import LEASE_S
from measure.overlay import encoded
from measure.pages.dates import day
from measure.pages.held import record
from measure.photo import read_photo
from measure.record.entries import MeasurementEntry, VisitEntry

_MOST_PAIRS = 24
"""About a MB each."""


@dataclass(frozen=True, eq=False)
class Compared:
    """Two visits laid over one another.

    Attributes
    ----------
    pictures : Pictures
        Both wounds from above.
    files : tuple of two bytes
        The same as JPEG files.
    earlier_mm, later_mm : Polygon
        The wounds in the pictures.
    fit : Fit
    doubt : Doubt
    """

    pictures: Pictures
    files: tuple[bytes, bytes]
    earlier_mm: Polygon
    later_mm: Polygon
    fit: Fit
    doubt: Doubt

    def advance(self, noon_deg: float) -> Advance:
        """Measure how far the edge moved; 12 o'clock lies clockwise from the top of the pictures."""
        return advance(self.earlier_mm, self.later_mm, self.doubt, noon_deg)

    def rings(self, shape: Polygon) -> list[Any]:
        """Return a wound's outline as the browser takes it: px of the pictures, to a tenth."""
        return [np.round(ring, 1).tolist() for ring in self.pictures.rings(shape)]


def compared(earlier: VisitEntry, later: VisitEntry, turn_deg: float | None = None) -> Compared:
    """Lay two measured visits over one another, or return them as at an earlier run.

    Parameters
    ----------
    earlier, later : VisitEntry
    turn_deg : float, optional
        As of `measure.compare.pair.aligned`.

    Raises
    ------
    CompareError
        If a photo has no sticker.
    RecordError
        If a stored photo can't be read.
    """
    return _compared(_Named(earlier), _Named(later), turn_deg)


class _Named:
    """A visit with its newest numbers, by which a pair is known again."""

    def __init__(self, visit: VisitEntry) -> None:
        if visit.measurement is None:
            raise ValueError(f"Visit {visit.id} has no numbers to compare: choose a measured one.")
        self.name, self.measurement = f"the photo of {day(visit.at)}", visit.measurement

    def laid_out(self) -> LaidOut:
        """Read the photo and find its wound plane."""
        measurement: MeasurementEntry = self.measurement
        source = measurement.document["calibration"]["source"]
        if source != "sticker":
            raise without_sticker(self.name, source)
        outline = measurement.outline
        photo = read_photo(record().photo_bytes(outline.photo), self.name)
        return lay_out(Traced(photo, outline.outline, precision_of(measurement.wound)), self.name)


_BY_NUMBER: dict[str | type[Any], Callable[[Any], Any]] = {
    _Named: lambda visit: (visit.measurement.id, visit.measurement.outline.photo, visit.name)
}


def chart(earlier: VisitEntry, later: VisitEntry, turn_deg: float | None, noon_deg: float) -> bytes:
    """Return a picture of the advance along the edge, drawn once: the PNG file of `measure.compare.advance_chart`."""
    return _chart(_Named(earlier), _Named(later), turn_deg, noon_deg)


@st.cache_data(max_entries=4 * _MOST_PAIRS, ttl=LEASE_S, show_spinner=False, hash_funcs=_BY_NUMBER)
def _chart(earlier: _Named, later: _Named, turn_deg: float | None, noon_deg: float) -> bytes:
    shown = _compared(earlier, later, turn_deg)
    return png(advance_chart(shown.advance(noon_deg), shown.earlier_mm, shown.later_mm, noon_deg))


@st.cache_data(
    max_entries=_MOST_PAIRS,
    ttl=LEASE_S,
    show_spinner=False,
    hash_funcs=_BY_NUMBER,
)
def _compared(earlier: _Named, later: _Named, turn_deg: float | None) -> Compared:
    pair = aligned(earlier.laid_out(), later.laid_out(), turn_deg)
    pictures = pair.pictures()
    files = encoded(pictures.earlier, ".jpg"), encoded(pictures.later, ".jpg")
    return Compared(pictures, files, pair.earlier_mm, pair.later_mm, pair.fit, pair.doubt)
