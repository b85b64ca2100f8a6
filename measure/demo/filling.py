"""Fills an empty record with invented people, each visit whole."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime

import numpy as np

from calibration.errors import EbblineError
from measure.demo.abdomen import abdomen
from measure.demo.course import Course, Seen, thinned
from measure.demo.hand import drawn_by_hand
from measure.demo.heel import heel
from measure.demo.leg import leg
from measure.demo.photographing import photographed, scene_of
from measure.demo.study import Edge, add_studies
from measure.editing import Editing
from measure.escalation.prompts import prompts
from measure.findings.findings import documents
from measure.geometry import Convention
from measure.photo import Photo, read_photo
from measure.pipeline import Measurement, complete, prepare
from measure.proposal import NETWORK
from measure.record.draft import VisitDraft, drawn
from measure.record.entries import What, WoundEntry
from measure.record.store import Record
from measure.rendering import Rendering, Scene

ALL_PHOTOS = 1000
"""More than any course has."""

_HAND = 77  # beside the seeds of the renderer


class DemoError(EbblineError):
    """A record that the demo must not be added to."""

    code = "record-not-empty"


def courses(today: date) -> tuple[Course, ...]:
    """Return the invented wounds, the last visit to each a few days before a day."""
    return leg(today), heel(today), abdomen(today)


def fill(  # noqa: PLR0913 - what may be wanted smaller, or on another day
    record: Record,
    tell: Callable[[str], None],
    *,
    width_px: int = 2016,
    today: date | None = None,
    photos: int = ALL_PHOTOS,
    method: str = NETWORK,
) -> None:
    """Fill an empty record: three people, three wounds, a visit at a time in the order in which they were, two studies.

    The same day and time zone give the same record, but for the instants at which it was saved.

    Parameters
    ----------
    record : Record
    tell : callable
        Takes a sentence on how far it is.
    width_px : int
        Of the longer side of photos.
    today : date, optional
        Day from which the story is told; today by default.
    photos : int
        Most photos of each wound; the story is told from beginning to end with fewer.
    method : str
        What proposes outlines, as in `measure.proposal.propose_outlines`.

    Raises
    ------
    DemoError
        If the record holds anyone already.
    RecordError
        If it can't be written to; the visits saved so far are whole.
    """
    _refuse_filled(record)
    told = courses(today or datetime.now().astimezone().date())
    first = told[0].visits[0]
    record.set("units", sorted({course.unit for course in told}), first.by)
    record.set("convention", str(Convention.LONGEST_PERPENDICULAR), first.by)
    filling = _Filling(record, width_px, method)
    wounds: dict[str, WoundEntry] = {}
    story = sorted(_story(told, photos), key=lambda each: each[2].at)
    count, done = sum(seen.look is not None for _, _, seen in story), 0
    for course, number, seen in story:
        if course.person not in wounds:
            wounds[course.person] = record.open_wound(
                course.person, course.site, course.kind, seen.by, at=seen.at, onset=course.onset
            )
        filling.save(wounds[course.person], course, number, seen)
        if seen.look:
            done += 1
            tell(f"Photo {done} of {count}: {course.person}, {course.site}, {seen.at.date().isoformat()}.")
    for course in told:
        if course.healed:
            last = course.visits[-1]
            record.mark(wounds[course.person].id, What.HEALED, last.by, at=last.at)
    add_studies(record, filling.edges, tell)


def _refuse_filled(record: Record) -> None:
    people = record.people()
    if people:
        raise DemoError(
            f"This record holds {len(people)} {'person' if len(people) == 1 else 'people'} already, and invented ones "
            "are put into an empty one only: name a new folder, or delete this one if it holds no more than a demo "
            "that was broken off."
        )


def _story(told: tuple[Course, ...], photos: int) -> Iterator[tuple[Course, int, Seen]]:
    for course in told:
        for number, seen in enumerate(thinned(course, photos)):
            yield course, number, seen


@dataclass(frozen=True)
class _Filling:
    record: Record
    width_px: int
    method: str
    edges: dict[str, Edge] = field(default_factory=dict)  # of the wounds measured so far, by the hash of the photo

    def save(self, wound: WoundEntry, course: Course, number: int, seen: Seen) -> None:
        """Save a visit, and what was done about each prompt that it led to."""
        draft = VisitDraft(wound.id, seen.at, seen.by, course.unit, findings=documents(seen.findings), note=seen.note)
        if seen.look:
            draft = self._with_photo(draft, scene_of(course, seen, seen.look, number, self.width_px), seen)
        visit = self.record.save_visit(draft).visit
        if seen.told:
            for prompt in prompts(wound, self.record.visits(wound.id)):
                self.record.answer_prompt(visit.id, prompt.reason, seen.told, seen.by)

    def _with_photo(self, draft: VisitDraft, scene: Scene, seen: Seen) -> VisitDraft:
        rendering, data = photographed(scene, seen)
        name = f"{seen.at.date().isoformat()}.jpg"
        photo = self.record.put_photo(data, name)
        draft = replace(draft, photo=photo)
        if seen.look is None or not seen.look.measured:
            return draft
        self.edges[photo.sha256] = Edge(rendering.outline_px, scene.seed)
        outlines, measured = drawn(self._measured(read_photo(data, name), rendering, seen), 0, seen.by)
        return replace(draft, outlines=outlines, measured=measured)

    def _measured(self, photo: Photo, rendering: Rendering, seen: Seen) -> Measurement:
        """Return the numbers of a photo whose proposed outline a person has corrected along the true edge."""
        prepared = prepare(photo, method=self.method)
        random = np.random.default_rng((rendering.scene.seed, _HAND))
        edge = rendering.outline_px
        mm_per_px = prepared.calibration.plane.mm_per_px(edge.mean(axis=0))
        outline = drawn_by_hand(edge, mm_per_px, random)
        editing = Editing(
            seen.by,
            int(random.integers(2, 7)),
            prepared.outlines,
            prepared.method,
            checked=True,
            edge_sigma_px=prepared.proposal.edge_sigma_px,
        )
        return complete(prepared, [outline], editing=editing, culture=seen.culture)
