"""Length and width of a wound as a ruler at the bedside gives them, to be laid beside those of the photo."""

from measure.findings.form import above_zero

MAX_RULER_CM = 60.0
"""A wound all the way along a lower leg is shorter (common practice); what is more was typed in mm."""


def ruler_length_cm(value: object) -> float:
    """Return the length in cm.

    Raises
    ------
    FindingError
        If it is no number above 0 and up to `MAX_RULER_CM`.
    """
    return above_zero(value, "The length by ruler", MAX_RULER_CM, "cm")


def ruler_width_cm(value: object) -> float:
    """Return the width in cm.

    Raises
    ------
    FindingError
        If it is no number above 0 and up to `MAX_RULER_CM`.
    """
    return above_zero(value, "The width by ruler", MAX_RULER_CM, "cm")


def by_ruler(length_cm: float | None, width_cm: float | None) -> str:
    """Return both as text, as charts do: 3.2 x 2.1 cm; empty where nobody took them."""
    if length_cm is not None and width_cm is not None:
        return f"{length_cm:g} x {width_cm:g} cm"
    if length_cm is not None:
        return f"length {length_cm:g} cm"
    return "" if width_cm is None else f"width {width_cm:g} cm"
