"""An outline in the form in which tables keep it; floats stay exact."""

from collections.abc import Mapping
from typing import Any

from measure.outline import Outline


def rings_document(outline: Outline) -> dict[str, Any]:
    """Return ``{"outline": [[x, y], ...], "holes": [[[x, y], ...]]}``; the reverse of `outline_of`."""
    return {"outline": outline.exterior.tolist(), "holes": [hole.tolist() for hole in outline.holes]}


def outline_of(rings: Mapping[str, Any]) -> Outline:
    """Return the outline of a row's rings."""
    return Outline(rings["outline"], tuple(rings["holes"]))
