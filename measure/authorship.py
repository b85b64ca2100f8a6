"""Who drew an outline: a person, the computer, or each a part of it.

An edge that a person drew, or says to have checked, is known as well as people draw. Where a proposal still stands and
nobody has said that it is right, it is known as well as its method says, however much was corrected elsewhere.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from measure.editing import Editing
from measure.outline import Outline, polygon
from measure.proposal import Proposal
from measure.wound import GIVEN

_SAME_PX = 0.5
"""An edge this near to the proposed one is still the proposed one: files keep hundredths of a pixel, fingers do not."""


@dataclass(frozen=True)
class Author:
    """Who drew one outline.

    Attributes
    ----------
    method : str
        Name and version of what proposed it, where all of it stands as proposed and unchecked; else `GIVEN`.
    as_proposed : float
        Share of its length that stands as proposed and that nobody has checked.
    edge_sigma_px : float
        How far the edge may lie off there, in photo px, as the method says; NaN where it can't say.
    """

    method: str
    as_proposed: float
    edge_sigma_px: float


def authors(outlines: Sequence[Outline] | None, proposal: Proposal, editing: Editing | None) -> tuple[Author, ...]:
    """Tell who drew each outline.

    Parameters
    ----------
    outlines : sequence of Outline, optional
        As they stand after a person had them; None where nobody had.
    proposal : Proposal
    editing : Editing, optional
        None where a person drew the outlines without a proposal.
    """
    if outlines is None:
        sigmas = proposal.edge_sigma_px or (math.nan,) * len(proposal.outlines)
        return tuple(Author(proposal.method, 1.0, sigma) for sigma in sigmas)
    if editing is None or editing.checked:
        return (Author(GIVEN, 0.0, math.nan),) * len(outlines)
    return tuple(_author(outline, editing) for outline in outlines)


def _author(outline: Outline, editing: Editing) -> Author:
    edge = polygon(outline).boundary
    shares = [(_share(edge, proposed), number) for number, proposed in enumerate(editing.proposed)]
    share, number = max(shares, default=(0.0, 0))
    if share == 0:
        return Author(GIVEN, 0.0, math.nan)
    proposed = editing.proposed[number]
    sigma = editing.edge_sigma_px[number] if editing.edge_sigma_px else math.nan
    whole = share == 1 and _share(polygon(proposed).boundary, outline) == 1
    return Author(editing.method if whole else GIVEN, share, sigma)


def _share(edge: BaseGeometry, other: Outline) -> float:
    """Return how much of an edge lies along that of another outline; just 1 where all of it does."""
    near = polygon(other).boundary.buffer(_SAME_PX)
    return 1.0 if near.covers(edge) else float(edge.intersection(near).length / edge.length)
