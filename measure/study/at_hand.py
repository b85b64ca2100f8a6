"""What a record tells of agreement without a study: the same wound, on the same day, in two ways.

Proposal against accepted outline, length x width against the traced area, ruler against photo. Nobody was blind, and a
person who is shown a proposal tends to leave it: such figures are friendlier than those of a study.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.validation import make_valid

from measure.agreement.errors import AgreementError
from measure.agreement.limits import Limits, limits_of_agreement
from measure.agreement.observations import Numbers, Observations
from measure.outline import Outline, dice, polygon
from measure.practice.share import FEWEST, Share, share_of
from measure.record.at_hand import AcceptedEntry, SizesEntry

PROPOSAL, ACCEPTED = "proposal", "accepted"
LENGTH_X_WIDTH, TRACED = "length x width", "traced area"
RULER, PHOTO = "ruler", "photo"

ELLIPSE = 4 / np.pi
"""Length x width of an ellipse against its area, by geometry: what a smooth oval wound gives."""

FIRST = "1"
"""Of the trials: the first visit to a wound that has both."""


@dataclass(frozen=True, eq=False)
class Proposals:
    """How proposals fared with the people who went over them.

    Attributes
    ----------
    observations : Observations, optional
        Areas in cm2 with the methods `PROPOSAL` and `ACCEPTED`, of each wound's first visit at which somebody went over
        the outline; None where no proposal met its wound then.
    dice : ndarray of shape (n,)
        Of proposal and accepted outline, of the same visits.
    missed : int
        Further wounds, where nothing was proposed then, or nothing that met the wound that a person drew.
    gone_over : int
        Visits at which somebody went over the outline.
    unchanged : int
        Those of them at which all was left as it was.
    taken : int
        Visits at which a proposal was measured and nobody said to have checked it.
    """

    observations: Observations | None
    dice: Numbers = field(default_factory=lambda: np.empty(0))
    missed: int = 0
    gone_over: int = 0
    unchanged: int = 0
    taken: int = 0


def against_proposal(entries: Sequence[AcceptedEntry]) -> Proposals:
    """Compare what was proposed with what people accepted.

    The record keeps outlines in photo pixels, and the area of the accepted one on the wound plane. The proposal's area
    is that one times the ratio of both in pixels: they lie on one plane and close together, so perspective changes both
    alike, to about 1 % with a camera tilted by 30 degrees. Of several proposals in a photo the one that shares most
    with the accepted outline counts.
    """
    rows: list[_Row] = []
    overlaps: list[float] = []
    drawn = [(entry, entry.edited) for entry in entries if entry.edited is not None]
    for entry, edited in drawn:
        accepted = _shape(edited)
        proposed = _nearest(accepted, entry.proposed)
        if proposed.intersects(accepted):
            area = entry.area_cm2 * proposed.area / accepted.area
            rows.append(_Row(entry.wound, entry.by, (area, entry.area_cm2)))
            overlaps.append(dice(proposed, accepted))
    return Proposals(
        _observations(rows, (PROPOSAL, ACCEPTED), "cm2") if rows else None,
        np.array(overlaps),
        missed=len(drawn) - len(rows),
        gone_over=sum(entry.gone_over for entry in entries),
        unchanged=sum(entry.gone_over and entry.edits == 0 for entry in entries),
        taken=sum(not entry.gone_over for entry in entries),
    )


def taken_by_person(entries: Iterable[AcceptedEntry]) -> dict[str, Share]:
    """Return by person how many outlines were measured as proposed without a word of having checked them.

    For the quality role alone; in the order of the alphabet.
    """
    told: dict[str, list[AcceptedEntry]] = {}
    for entry in entries:
        told.setdefault(entry.by.casefold(), []).append(entry)
    return {several[-1].by: share_of(not entry.gone_over for entry in several) for _, several in sorted(told.items())}


def length_x_width_against_area(entries: Iterable[SizesEntry], convention: str) -> Observations:
    """Return length x width and traced area, in cm2, of the visits whose lengths were taken in one way.

    Raises
    ------
    AgreementError
        If no visit has both.
    """
    rows = [
        _Row(entry.wound, entry.by, (entry.length_x_width_cm2, entry.area_cm2))
        for entry in entries
        if entry.convention == convention and entry.length_x_width_cm2 and entry.area_cm2
    ]
    return _observations(rows, (LENGTH_X_WIDTH, TRACED), "cm2")


def ruler_against_photo(entries: Iterable[SizesEntry], side: str) -> Observations:
    """Return length or width, in cm, of the visits that have it by ruler and by photo.

    Parameters
    ----------
    entries : iterable of SizesEntry
    side : str
        ``length`` or ``width``.

    Raises
    ------
    AgreementError
        If no visit has both.
    """
    both = ((entry, getattr(entry, f"ruler_{side}_cm"), getattr(entry, f"{side}_cm")) for entry in entries)
    rows = [_Row(entry.wound, entry.by, (ruler, photo)) for entry, ruler, photo in both if ruler and photo]
    return _observations(rows, (RULER, PHOTO), "cm")


def conventions(entries: Iterable[SizesEntry]) -> tuple[str, ...]:
    """Return how lengths were taken, the most frequent first."""
    return tuple(name for name, _ in Counter(entry.convention for entry in entries if entry.convention).most_common())


@dataclass(frozen=True, eq=False)
class Compared:
    """Two ways side by side, each wound once.

    Attributes
    ----------
    visits : int
        With both.
    wounds : int
        The limits are of one visit each, the first: visits of one wound resemble one another and are no new wounds.
    limits : Limits
        As ratios of the first way to the second.
    """

    visits: int
    wounds: int
    limits: Limits

    @property
    def few(self) -> bool:
        """Whether there are too few to judge."""
        return self.wounds < FEWEST


def compared(observations: Observations, one: str, other: str) -> Compared:
    """Return the limits of agreement of two methods, as ratios.

    Raises
    ------
    AgreementError
        If there are fewer than two wounds.
    """
    firsts = observations.where(observations.trial == FIRST)
    first, second = (firsts.by_method(method).value for method in (one, other))
    visits = int((observations.method == one).sum())
    if len(first) < 2:
        raise AgreementError(
            f"Only {len(first)} wound was measured both ways; limits need at least two, better {FEWEST}."
        )
    return Compared(visits, len(first), limits_of_agreement(first, second, unit=observations.unit, log=True))


@dataclass(frozen=True)
class _Row:
    """A visit: its wound, who measured, and the value of each of two methods."""

    wound: str
    by: str
    values: tuple[float, float]


def _observations(rows: Sequence[_Row], methods: tuple[str, str], unit: str) -> Observations:
    """Lay the visits out, each wound's numbered as they come."""
    if not rows:
        raise AgreementError(f"No visit in this time has both {methods[0]} and {methods[1]}.")
    met: Counter[str] = Counter()
    trials = []
    for row in rows:
        met[row.wound] += 1
        trials.append(str(met[row.wound]))
    return Observations(
        np.repeat(np.array([row.wound for row in rows]), 2),
        np.repeat(np.array([row.by for row in rows]), 2),
        np.repeat(np.array(trials), 2),
        np.tile(np.array(methods), len(rows)),
        np.array([row.values for row in rows], dtype=np.float64).ravel(),
        unit,
    )


def _nearest(accepted: BaseGeometry, proposed: Sequence[Outline]) -> BaseGeometry:
    """Return the proposal that shares most with an outline; an empty one where nothing was proposed."""
    return max(map(_shape, proposed), key=lambda each: each.intersection(accepted).area, default=Polygon())


def _shape(outline: Outline) -> BaseGeometry:
    """Return the area inside; an outline that crosses itself is taken apart."""
    drawn = polygon(outline)
    return drawn if drawn.is_valid else make_valid(drawn)
