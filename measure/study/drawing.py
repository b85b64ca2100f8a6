"""Draws the photos of a study: by lot from all, or as evenly as can be from groups of size, site or tone."""

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from measure.record.entries import VisitEntry
from measure.record.study_entries import DrawnBy, StudyPhoto
from measure.study.candidates import Candidate, thirds
from measure.study.lots import lot


def draw(photos: Sequence[Candidate], count: int, drawn_by: DrawnBy, seed: int) -> list[StudyPhoto]:
    """Draw photos.

    Each group gives a photo in turn until there are enough, so that rare ones are seen as often as frequent ones as far
    as they go. A second photo of a wound is drawn once its group has none of another wound: photos of one wound are
    alike, and tell less than their number.

    Parameters
    ----------
    photos : sequence of Candidate
        In any order.
    count : int
        How many; all where there are fewer.
    drawn_by : DrawnBy
    seed : int
        With the same seed and the same photos the draw comes out the same.
    """
    stratum = strata(photos, drawn_by)
    groups: defaultdict[str, list[Candidate]] = defaultdict(list)
    for photo in _mixed(photos, seed):
        groups[stratum[photo.sha256]].append(photo)
    turns = [
        (turn, lot(seed, "group", name), photo)
        for name, group in groups.items()
        for turn, photo in enumerate(_other_wounds_first(group))
    ]
    drawn = [photo for _, _, photo in sorted(turns, key=lambda each: each[:2])[:count]]
    return [
        StudyPhoto(number, photo.sha256, photo.wound_key, photo.area_cm2, stratum[photo.sha256])
        for number, photo in enumerate(drawn, 1)
    ]


def strata(photos: Sequence[Candidate], drawn_by: DrawnBy) -> dict[str, str]:
    """Return the group of each photo, by its hash; one without a name where photos are drawn from all."""
    if drawn_by == DrawnBy.SIZE:
        return thirds(photos)
    named: Mapping[DrawnBy, Callable[[Candidate], str]] = {
        DrawnBy.RANDOM: lambda _: "",
        DrawnBy.SITE: lambda photo: photo.site,
        DrawnBy.TONE: lambda photo: photo.tone,
    }
    return {photo.sha256: named[DrawnBy(drawn_by)](photo) for photo in photos}


def with_proposals(
    drawn: Sequence[StudyPhoto], photos: Sequence[Candidate], visit: Callable[[int], VisitEntry]
) -> tuple[StudyPhoto, ...]:
    """Add to each photo what was proposed at its visit, where anything was.

    Parameters
    ----------
    drawn : sequence of StudyPhoto
    photos : sequence of Candidate
        From which they were drawn.
    visit : callable
        Gives the visit of a number, as `measure.record.store.Record.visit`.
    """
    visits = {photo.sha256: photo.visit for photo in photos}
    return tuple(_with_proposal(photo, visit(visits[photo.sha256])) for photo in drawn)


def _with_proposal(photo: StudyPhoto, visit: VisitEntry) -> StudyPhoto:
    proposed = [entry for entry in visit.outlines if entry.kind == "proposed" and entry.photo == photo.sha256]
    return replace(photo, proposal=proposed[0].outline, method=proposed[0].method) if proposed else photo


def _mixed(photos: Sequence[Candidate], seed: int) -> list[Candidate]:
    return sorted(photos, key=lambda photo: lot(seed, "photo", photo.sha256))


def _other_wounds_first(group: Sequence[Candidate]) -> list[Candidate]:
    """Put the first photo of each wound before any second one, and keep the order else."""
    met: Counter[str] = Counter()
    ranked = []
    for photo in group:
        ranked.append((met[photo.wound_key], photo))
        met[photo.wound_key] += 1
    return [photo for _, photo in sorted(ranked, key=lambda each: each[0])]
