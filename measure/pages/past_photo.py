"""The photo of a past visit with the outline that was measured in it, and its numbers."""

from collections.abc import Mapping
from typing import Any

import cv2
import numpy as np
import streamlit as st

from measure.outline import Outline
from measure.overlay import encoded
from measure.pages.dates import moment
from measure.pages.held import record
from measure.pages.plain import plain
from measure.photo import read_photo
from measure.record.entries import MeasurementEntry, VisitEntry

_WIDTH_PX = 1200
"""Of the picture: sharp on a tablet, and small enough for a ward's network."""

_ROWS = {"area_cm2": ("Area", "cm²"), "length_cm": ("Length", "cm"), "width_cm": ("Width", "cm")} | {
    "length_x_width_cm2": ("Length x width", "cm²"),
    "perimeter_cm": ("Perimeter", "cm"),
}


def show_past_photo(visit: VisitEntry) -> None:
    """Draw the photo of a visit and what was measured; say so where there is none."""
    measurement = visit.measurement
    if not visit.photos:
        st.caption("Without a photo.")
        return
    photo = measurement.outline.photo if measurement else visit.photos[-1].sha256
    st.image(_picture(photo, measurement), width="stretch", alt="The photo of this visit with its outline.")
    if measurement is None:
        return
    st.table(dict(_rows(measurement.wound)))
    drew = plain(measurement.outline.by) or "nobody: it is as proposed"
    st.caption(
        f"Outline {measurement.outline.kind}; drawn or checked by {drew}. Length and width: {measurement.convention}."
    )
    if earlier := visit.measurements[:-1]:
        st.caption(f"Measured before as: {'; '.join(map(_once, earlier))}.")
    if accepted := measurement.document.get("acceptance"):
        st.markdown(f"Photo kept in spite of a failed check: {plain(accepted['reason'])}")


def _once(measurement: MeasurementEntry) -> str:
    return f"{measurement.wound['area_cm2']['value']:.2f} cm² ({plain(measurement.by)}, {moment(measurement.at)})"


def _rows(wound: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [(name, f"{wound[key]['value']:.2f} {_interval(wound[key], unit)}") for key, (name, unit) in _ROWS.items()]


def _interval(quantity: Mapping[str, Any], unit: str) -> str:
    sigma = quantity["standard_uncertainty"]
    return f"{unit} (uncertainty not known)" if sigma is None else f"± {2 * sigma:.2f} {unit} (k = 2)"


@st.cache_data(max_entries=32, show_spinner=False, hash_funcs={MeasurementEntry: lambda entry: entry.id})
def _picture(photo: str, measurement: MeasurementEntry | None) -> bytes:
    pixels = read_photo(record().photo_bytes(photo), "photo").pixels
    scale = min(1.0, _WIDTH_PX / pixels.shape[1])
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    for ring in _rings(measurement.outline.outline) if measurement else ():
        points = np.rint(((ring + 0.5) * scale - 0.5) * 16).astype(np.int32)
        for colour, width in (((255, 255, 255), 5), ((11, 110, 117), 2)):
            cv2.polylines(small, [points], isClosed=True, color=colour, thickness=width, lineType=cv2.LINE_AA, shift=4)
    return encoded(np.asarray(small, dtype=np.uint8), ".jpg")


def _rings(outline: Outline) -> list[np.ndarray[Any, np.dtype[np.float64]]]:
    return [outline.exterior, *outline.holes]
