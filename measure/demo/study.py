"""Invented: a study of the record's photos that three hands have traced twice, and one that waits for a visitor.

The study finds what its hands do: each leans to its own side of the true edge and is steady in its own measure, and
nothing else tells them apart.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.demo.hand import Hand, drawn_by_hand
from measure.editing import Editing
from measure.geometry import Convention
from measure.photo import read_photo
from measure.pipeline import Prepared, complete, prepare
from measure.record.draft import drawn
from measure.record.store import Record
from measure.record.study_entries import DrawnBy, StudyHead, StudyPhoto, StudyPlan
from measure.record.study_rows import TracingDraft
from measure.study.candidates import Candidate, candidates
from measure.study.drawing import draw
from measure.study.turns import next_turn

TRACED, WAITING = "Three raters (invented)", "Try tracing yourself"

HANDS: Mapping[str, Hand] = {
    "KT": Hand(off_mm=0.3, lean_mm=-0.2),
    "MO": Hand(off_mm=0.5, lean_mm=0.0),
    "RB": Hand(off_mm=0.35, lean_mm=0.25),
}
"""Of the raters. With no proposal to begin with people draw farther off than at a visit, and each takes something else
for the edge; by how much is invented."""

VISITOR = "AB"
"""Whom the README's examples let work; as long as nobody types this, the study waits."""

_COLLEAGUE = "KT"

_TRIALS = 2
_PHOTOS, _SEED = 12, 2101
_FEW, _OTHER_SEED = 3, 2102  # as many as somebody traces who only wants to see how it goes
_SECONDS_A_POINT = 0.5
_HAND = 79  # beside the seeds of the renderer and of the visits' hand


@dataclass(frozen=True, eq=False)
class Edge:
    """The true edge of the wound in a photo.

    Attributes
    ----------
    outline_px : ndarray, shape (N, 2)
        In photo pixels.
    seed : int
        Of what the photo shows by chance.
    """

    outline_px: NDArray[np.float64]
    seed: int


def add_studies(record: Record, edges: Mapping[str, Edge], tell: Callable[[str], None]) -> None:
    """Add both studies to a record, if it holds photos that can be drawn.

    Parameters
    ----------
    record : Record
    edges : mapping of str to Edge
        By the hash of the photo, of all that were measured.
    tell : callable
        Takes a sentence on how far it is.

    Raises
    ------
    RecordError
        If it can't be written to; the tracings saved so far are whole.
    """
    found = candidates(record.studies.photo_facts()).photos
    if not found:
        return
    traced = _plan(found, _PHOTOS, _SEED, tuple(HANDS))
    tell(f"Agreement study: {len(traced.photos)} photos, {len(HANDS)} raters, {_TRIALS} trials.")
    _trace(record, traced, edges)
    record.studies.add(WAITING, _plan(found, _FEW, _OTHER_SEED, (VISITOR, _COLLEAGUE)), _COLLEAGUE)


def _plan(found: Sequence[Candidate], photos: int, seed: int, raters: tuple[str, ...]) -> StudyPlan:
    return StudyPlan(
        seed=seed,
        drawn_by=DrawnBy.SIZE,
        photos=tuple(draw(found, photos, DrawnBy.SIZE, seed)),
        raters=raters,
        trials=_TRIALS,
        proposal=False,
        convention=Convention.LONGEST_PERPENDICULAR,
    )


def _trace(record: Record, plan: StudyPlan, edges: Mapping[str, Edge]) -> None:
    """Begin a study and save its tracings, each when it is its turn; photos are opened one by one, for all raters."""
    head: StudyHead = record.studies.add(TRACED, plan, plan.raters[0])
    drafts = {
        (draft.rater, draft.trial, draft.photo): draft
        for photo in plan.photos
        for draft in _tracings(record, photo, plan.trials, edges[photo.sha256])
    }
    for rater in plan.raters:
        while turn := next_turn(head, rater):
            head = record.studies.add_tracing(head.id, drafts[rater, turn.trial, turn.photo.number], rater)


def _tracings(record: Record, photo: StudyPhoto, trials: int, edge: Edge) -> Iterator[TracingDraft]:
    """Give all tracings of a photo."""
    prepared = prepare(read_photo(record.photo_bytes(photo.sha256), photo.subject), propose=False)
    for rater in HANDS:
        for trial in range(1, trials + 1):
            yield _tracing(prepared, edge, photo.number, rater, trial)


def _tracing(prepared: Prepared, edge: Edge, photo: int, rater: str, trial: int) -> TracingDraft:
    random = np.random.default_rng((edge.seed, _HAND, list(HANDS).index(rater), trial))
    mm_per_px = prepared.calibration.plane.mm_per_px(edge.outline_px.mean(axis=0))
    outline = drawn_by_hand(edge.outline_px, mm_per_px, random, HANDS[rater])
    editing = Editing(rater, int(random.integers(1, 5)), (), "none", checked=True)
    outlines, numbers = drawn(complete(prepared, [outline], editing=editing, skin=False), 0, rater)
    seconds = round(_SECONDS_A_POINT * len(outline.exterior) * float(random.uniform(0.7, 1.3)), 1)
    return TracingDraft(photo, rater, trial, outlines[numbers.outline].outline, numbers.document, seconds)
