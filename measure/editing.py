"""Who corrected the outlines, how often, and what was proposed before: kept with the numbers.

How often proposals are corrected, and by how much, tells how far they can be trusted; that is lost if the proposal is.
"""

import math
from dataclasses import dataclass
from typing import Any

from calibration.errors import EbblineError
from measure.acceptance import unshown
from measure.outline import Outline, parse_outlines
from measure.outline import document as outline_document

MAX_BY = 20
"""Characters of initials or a staff code; names don't belong into a record."""

_FORM = (
    '{"by": "AB", "edits": 3, "checked": true, "method": "...", "edge_sigma_px": [2.5], '
    '"proposed": [{"outline": [[x, y], ...], "holes": []}]}'
)


class EditingError(EbblineError):
    """A note of who edited an outline that can't be recorded."""

    code = "unusable-editing"


@dataclass(frozen=True, eq=False)
class Editing:
    """That a person went over the outlines.

    Attributes
    ----------
    by : str
        Initials or staff code of who edited, on one line; empty while nobody said.
    edits : int
        Changes that were made and not undone; 0 where a person looked and left all as it was.
    proposed : tuple of Outline
        What had been proposed, in photo pixels; may be empty.
    method : str
        Name and version of what proposed it.
    checked : bool
        Whether the person says that the whole edge is right, also where it stands as proposed.
    edge_sigma_px : tuple of float
        How far each proposed edge may lie off, in photo px, as the method said; empty where it could not say.

    Raises
    ------
    EditingError
        If ``by`` can't be recorded, or the number of edits is none.
    """

    by: str
    edits: int
    proposed: tuple[Outline, ...]
    method: str
    checked: bool = False
    edge_sigma_px: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        object.__setattr__(self, "by", usable_by(self.by) if self.by.strip() else "")
        if self.edits < 0:
            raise EditingError(f"The outlines were edited {self.edits} times; give 0 or more edits.")


def usable_by(by: str) -> str:
    """Return initials or a staff code without the space round them.

    Raises
    ------
    EditingError
        If they are empty, longer than `MAX_BY`, or hold characters that can't be shown on one line.
    """
    usable = by.strip()
    if not usable:
        raise EditingError("Nobody is named who edited the outline: give your initials or staff code.")
    if len(usable) > MAX_BY:
        raise EditingError(
            f"Who edited the outline takes {len(usable)} characters, at most {MAX_BY} are kept: give initials or a "
            "staff code, not a name."
        )
    if any(unshown(character) for character in usable):
        raise EditingError(
            "Who edited the outline holds a line break or a control character: give initials or a staff code in "
            "letters, digits and signs."
        )
    return usable


def editing_document(editing: Editing | None) -> dict[str, Any] | None:
    """Give the form that stands under ``editing`` in a photo's document; the reverse of `parse_editing`."""
    if editing is None:
        return None
    proposed = outline_document(editing.proposed)["wounds"]
    said = {"by": editing.by, "edits": editing.edits, "checked": editing.checked}
    sigmas = [round(sigma, 3) for sigma in editing.edge_sigma_px]
    return said | {"method": editing.method, "proposed": proposed, "edge_sigma_px": sigmas}


def parse_editing(loaded: object, width: int, height: int) -> Editing | None:
    """Read who edited the outlines from a photo's loaded document; None where it says nothing of it.

    Parameters
    ----------
    loaded : object
        The whole document, as JSON gave it.
    width, height : int
        Of the photo, in pixels.

    Raises
    ------
    EditingError
        If there is something under ``editing`` that has another form.
    OutlineError
        If a proposed outline can't be measured.
    """
    note = loaded.get("editing") if isinstance(loaded, dict) else None
    if note is None:
        return None
    if not isinstance(note, dict) or not _has_form(note):
        raise EditingError(f"What the outline file says under 'editing' is not in the form {_FORM}; save it again.")
    proposed = parse_outlines({"wounds": note["proposed"]}, width, height) if note["proposed"] else ()
    sigmas = tuple(float(sigma) for sigma in note["edge_sigma_px"])
    return Editing(note["by"], note["edits"], proposed, note["method"], note["checked"], sigmas)


def _has_form(note: dict[str, object]) -> bool:
    edits = note.get("edits")
    texts = isinstance(note.get("by"), str) and isinstance(note.get("method"), str)
    proposed, sigmas = note.get("proposed"), note.get("edge_sigma_px")
    if not (texts and isinstance(note.get("checked"), bool) and type(edits) is int and isinstance(proposed, list)):
        return False
    if not isinstance(sigmas, list) or len(sigmas) not in {0, len(proposed)}:
        return False
    return all(type(sigma) in {int, float} and math.isfinite(sigma) and sigma >= 0 for sigma in sigmas)
