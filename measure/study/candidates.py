"""The photos of a record that a study can draw from, and why the others can't be drawn."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from measure.record.photo_facts import PhotoFacts
from measure.skin_tone import skin_class

SCALES = ("sticker", "ruler")
"""What a photo's scale may come from: what is in the photo for every rater, not two points that somebody marked."""

NO_TONE = "tone not known"

THIRDS = ("smallest third", "middle third", "largest third")


@dataclass(frozen=True)
class Candidate:
    """A photo that can be drawn.

    Attributes
    ----------
    visit : int
        ``id`` of the visit that it belongs to.
    sha256 : str
    wound_key : str
    area_cm2 : float
        As measured at the visit.
    site : str
        Place on the body.
    tone : str
        Class of the skin's tone as of `measure.skin_tone`, or `NO_TONE`.
    """

    visit: int
    sha256: str
    wound_key: str
    area_cm2: float
    site: str
    tone: str


@dataclass(frozen=True)
class Candidates:
    """What a record offers.

    Attributes
    ----------
    photos : tuple of Candidate
    left_out : mapping of str to int
        Why visits can't be drawn, in words, and how many.
    """

    photos: tuple[Candidate, ...]
    left_out: Mapping[str, int]


def candidates(facts: Iterable[PhotoFacts]) -> Candidates:
    """Sort out the photos that show one wound, measured, with a scale that is in the photo.

    Parameters
    ----------
    facts : iterable of PhotoFacts
        Of all visits, by when the wound was seen; of several visits with one photo of the same wound, the first counts.
    """
    known = list(facts)
    wounds: defaultdict[str, set[str]] = defaultdict(set)
    for each in known:
        wounds[each.source_sha256].add(each.wound_key)
    taken: dict[str, Candidate] = {}
    left_out: Counter[str] = Counter()
    for each in known:
        reason = _reason(each, len(wounds[each.source_sha256]))
        if not reason and each.sha256 in taken:
            reason = "same photo as another visit to the wound"
        if reason:
            left_out[reason] += 1
        elif each.area_cm2 is not None:
            tone = NO_TONE if each.ita_deg is None else skin_class(each.ita_deg)
            found = Candidate(each.visit, each.sha256, each.wound_key, each.area_cm2, each.place, tone)
            taken[each.sha256] = found
    return Candidates(tuple(taken.values()), dict(left_out))


def _reason(facts: PhotoFacts, wounds: int) -> str:
    """Say why a visit's photo can't be drawn; empty where it can."""
    reasons = {
        "left out of their series": facts.left_out,
        "without a photo": not facts.sha256,
        "photo not measured": facts.area_cm2 is None,
        "scale not from a sticker or ruler": facts.scale not in SCALES,
        "more than one wound in the photo, or proposed in it": wounds > 1 or facts.proposed > 1,
    }
    return next((reason for reason, holds in reasons.items() if holds), "")


def thirds(photos: Sequence[Candidate]) -> dict[str, str]:
    """Return for each photo, by its hash, in which third of all it is by the size of its wound."""
    ranked = sorted(photos, key=lambda photo: (photo.area_cm2, photo.sha256))
    return {photo.sha256: THIRDS[3 * rank // len(ranked)] for rank, photo in enumerate(ranked)}
