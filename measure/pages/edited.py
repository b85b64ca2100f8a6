"""What a person has drawn on a photo and said of it: kept in the session, so that no rerun and no other page loses it.

Only outlines are kept, not the photo: a shift's worth of them would fill the memory.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import streamlit as st

from calibration.errors import EbblineError
from measure.editing import Editing
from measure.outline import Outline, document
from measure.photo import Photo
from measure.pipeline import Prepared
from measure.snap import follow_edge
from measure.sweep import add_sweep, remove_sweep

_SWEEPS = {"add": add_sweep, "remove": remove_sweep}
_DRAWN = "edited"

Wounds = list[dict[str, Any]]


@dataclass
class Edited:
    """The outlines of one photo as they stand now, in the form in which the browser holds them.

    Attributes
    ----------
    wounds : list of dict
        ``{"outline": [[x, y], ...], "holes": [...]}`` in photo px; may be impossible to measure.
    seq : int
        Number of the last step that the browser sent.
    edits : int
        Changes from the proposal that are made and not undone.
    taps : list of dict
        What a person said of regions of tissue, ``{"at": [x, y], "tissue": name}`` in photo px; not among the edits.
    control : list of two float, optional
        Where a person chose the skin that the skin round the wound is compared with, in photo px.
    reply : dict
        Answer to the browser's last request.
    filed : tuple, optional
        What of this was saved to a file last, as `measure.pages.saving` knows it.
    """

    wounds: Wounds
    seq: int = 0
    edits: int = 0
    taps: list[dict[str, Any]] = field(default_factory=list)
    control: list[float] | None = None
    reply: dict[str, Any] = field(default_factory=dict)
    filed: tuple[object, ...] | None = None

    @property
    def touched(self) -> bool:
        """Whether a person drew or said anything."""
        return bool(self.edits or self.taps or self.control)

    def outlines(self, *, checked: bool) -> tuple[Outline, ...] | None:
        """Return what to measure; None while the proposal stands and nobody says that it is right.

        Raises
        ------
        OutlineError
            If a ring has too few points.
        """
        return _outlines(self.wounds) if self.edits or checked else None

    def editing(self, by: str, prepared: Prepared, *, checked: bool) -> Editing | None:
        """Return who edited or checked, for the record; None while the proposal stands unchecked."""
        if not (self.edits or checked):
            return None
        proposal = prepared.proposal
        return Editing(by, self.edits, proposal.outlines, proposal.method, checked, proposal.edge_sigma_px)

    def take(self, step: Mapping[str, Any]) -> None:
        """Keep a step that the browser sent, unless a later one is here already."""
        if step["seq"] > self.seq:
            self.wounds, self.edits, self.seq = step["wounds"], step["edits"], step["seq"]
            self.taps, self.control = step.get("taps", self.taps), step.get("control", self.control)

    def answer(self, photo: Photo, request: Mapping[str, Any]) -> None:
        """Answer a request: the path along the edge between two places, or the outlines after a sweep."""
        seq = request["seq"]
        if seq == self.reply.get("seq"):
            return
        try:
            self.reply = {"seq": seq} | (_path if request["kind"] == "follow" else _swept)(photo, request)
        except EbblineError as error:
            self.reply = {"seq": seq, "trouble": str(error)}
        if "wounds" in self.reply:
            self.take({**request, "wounds": self.reply["wounds"]})


def edited(prepared: Prepared, key: str = "") -> Edited:
    """Return what was drawn on this photo in this session; at first the proposal.

    Parameters
    ----------
    prepared : Prepared
    key : str
        What it is drawn for, where the same photo may be drawn on for several ends; by default the photo's hash.
    """
    drawn: dict[str, Edited] = st.session_state.setdefault(_DRAWN, {})
    return drawn.setdefault(key or prepared.photo.sha256, Edited(proposal(prepared)))


def forget_drawn(key: str) -> None:
    """Forget what was drawn for one end, because it is saved and must not be seen again."""
    st.session_state.get(_DRAWN, {}).pop(key, None)


def proposal(prepared: Prepared) -> Wounds:
    """Return what was proposed, in the form in which the browser holds it."""
    return document(prepared.outlines)["wounds"]


def _outlines(wounds: Wounds) -> tuple[Outline, ...]:
    return tuple(Outline(np.array(wound["outline"]), tuple(map(np.array, wound["holes"]))) for wound in wounds)


def _path(photo: Photo, request: Mapping[str, Any]) -> dict[str, Any]:
    path = follow_edge(photo.pixels, np.array(request["from"], float), np.array(request["to"], float))
    return {"path": np.round(path, 2).tolist()}


def _swept(photo: Photo, request: Mapping[str, Any]) -> dict[str, Any]:
    before = _outlines(request["wounds"])
    after = _SWEEPS[request["kind"]](before, request["stroke"], request["radius"], photo.width, photo.height)
    if len(after) == len(before) and all(one is other for one, other in zip(after, before, strict=True)):
        return {"trouble": "That changed nothing. Rub across the line."}
    return {"wounds": document(after)["wounds"]}
