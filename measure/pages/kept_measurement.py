"""The photo of a visit on a page: what it shows, and what of it may go into the record."""

from collections.abc import Callable

from measure.pages.edited import Edited
from measure.pages.measuring import measure_photo
from measure.pages.saving import kept
from measure.pipeline import Measurement


def measure_to_keep(*, chooser: bool = True) -> tuple[Measurement | None, Measurement | None]:
    """Draw a photo's part of a page; return what it shows, and the same once the photo will do or is kept for a reason.

    Parameters
    ----------
    chooser : bool
        Whether another photo may be taken.
    """
    will_do: list[Measurement] = []

    def keep(measurement: Measurement, _drawn: Edited, _again: Callable[[], Measurement | None]) -> None:
        if measurement.wounds and (accepted := kept(measurement)):
            will_do.append(accepted)

    measured = measure_photo(keep, brief=True, chooser=chooser)
    return measured, will_do[0] if will_do else None
