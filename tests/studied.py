"""A small agreement study: photos of a record, as drawn, and tracings of them."""

from filled import FIRST_DAY, draft, jpeg, numbers, outline

from measure.record.entries import Kind, Side, Site
from measure.record.study_entries import DrawnBy, StudyEntry, StudyPhoto, StudyPlan, TracingEntry
from measure.record.study_rows import TracingDraft


def photos(record, count=2):
    """Keep a visit with a photo for each of so many people; return the photos as a study has them."""
    drawn = []
    for number in range(1, count + 1):
        wound = record.open_wound(f"P{number}", Site(Side.LEFT, "heel"), Kind.PRESSURE, "AB", at=FIRST_DAY)
        photo = record.put_photo(jpeg(number), "heel.jpg")
        record.save_visit(draft(wound, photo))
        drawn.append(drawn_photo(number, photo.sha256))
    return tuple(drawn)


def drawn_photo(number, sha256=""):
    """Return a photo as a study has it."""
    return StudyPhoto(number, sha256, f"P{number}/1", 16.0, "heel", outline(42), "by-colour 1")


def plan(drawn, **changes):
    """Return a plan of two raters who trace each photo twice."""
    given = {
        "seed": 7,
        "drawn_by": DrawnBy.SITE,
        "photos": drawn,
        "raters": ("AB", "CD"),
        "trials": 2,
        "proposal": False,
        "convention": "longest-perpendicular",
    }
    return StudyPlan(**(given | changes))


def traced(photo, rater="AB", trial=1, area_cm2=16.0, **changes):
    """Return a tracing before it is saved."""
    given = {
        "photo": photo,
        "rater": rater,
        "trial": trial,
        "outline": outline(40 + trial),
        "document": numbers(area_cm2),
        "seconds": 31.25,
    }
    return TracingDraft(**(given | changes))


def entry(plan, *drafts):
    """Return a study with what was traced in it, without a record."""
    tracings = tuple(
        TracingEntry(number, **draft.__dict__, at=FIRST_DAY, by=draft.rater) for number, draft in enumerate(drafts, 1)
    )
    done = frozenset((draft.rater, draft.trial, draft.photo) for draft in drafts)
    return StudyEntry(1, "Heels", plan, FIRST_DAY, "QA", (), done, tracings)
