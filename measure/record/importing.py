"""Photos of one wound, taken over weeks, become visits to it: each at its capture time, measured as proposed.

Nothing is drawn or checked by a person here, and each visit says so. A photo that the wound has already is skipped, so
that an import which was stopped at any moment goes on where it was. What a file is called, which is often a name, does
not go into the record; it is told to who imports, and no more.
"""

import hashlib
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any

from calibration.errors import EbblineError
from measure.acceptance import usable_reason
from measure.geometry import Convention
from measure.photo import Photo, PhotoError, file_bytes
from measure.pipeline import Measurement, complete, prepare
from measure.proposal import NETWORK, check_method
from measure.record.admission import initials
from measure.record.draft import DraftMeasurement, DraftOutline, VisitDraft, drawn
from measure.record.entries import Kind, Site, VisitEntry, WoundEntry
from measure.record.store import Record
from measure.record.stripping import strip
from measure.uncertainty import COVERAGE_FACTOR

PHOTO_SUFFIXES = frozenset(
    {".avif", ".gif", ".heic", ".heif", ".hif", ".jpe", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".webp"}
)
"""Endings of the files that are looked at: what `measure.photo` reads."""

_FIRST_YEAR = 1995
"""Cameras write EXIF data since then; an earlier time is that of a clock which nobody set."""

_AHEAD = timedelta(days=1)
"""A capture time may lie so far ahead: one without a time zone may have come from anywhere."""

_UNCHECKED = "Imported from a photo: the outline is as proposed, and nobody has checked it."
_NO_OUTLINE = "Imported from a photo in which no wound was found: trace it by hand, so that it can be measured."
_HEAD = "Length was taken from the top of the photo, as if the head were there: trace it again if it is not."
_BY_FILE = "The photo notes no usable capture time: the visit has the time at which its file was last changed."
_BY_HAND = "The photo notes no usable capture time: the visit has the time that was given for the import."


class ImportingError(EbblineError):
    """A folder whose photos can't be imported as asked."""

    code = "unusable-import"


@dataclass(frozen=True)
class Opening:
    """A wound to open for the photos, where the person has none of this kind at this site yet."""

    person: str
    site: Site
    kind: Kind
    onset: date | None = None


@dataclass(frozen=True)
class Manner:
    """How photos are imported.

    Attributes
    ----------
    unit : str
        Ward or team of the visits.
    convention : Convention
        How length and width are taken.
    method : str
        What proposes the outlines, as in `measure.proposal.propose_outlines`.
    accept : str, optional
        Why photos are kept of which a check failed.
    zone : tzinfo, optional
        Of capture times without one; by default that of this computer.
    at : datetime, optional
        Time of the visit for photos that note no usable capture time, with its time zone.
    file_time : bool
        Whether, without ``at``, the time at which a file was last changed counts for them.
    """

    unit: str = ""
    convention: Convention = Convention.LONGEST_PERPENDICULAR
    method: str = NETWORK
    accept: str | None = None
    zone: tzinfo | None = None
    at: datetime | None = None
    file_time: bool = False


@dataclass(frozen=True)
class LeftOut:
    """A file that did not become a visit, and a sentence that says why."""

    file: Path
    sentence: str


@dataclass(frozen=True, eq=False)
class Imported:
    """What came of the files of a folder.

    Attributes
    ----------
    wound : WoundEntry or None
        None where it was to be opened and no photo was usable.
    visits : tuple of VisitEntry
        Those that were added.
    already : tuple of Path
        Files whose photos this wound had before.
    left_out : tuple of LeftOut
    """

    wound: WoundEntry | None
    visits: tuple[VisitEntry, ...]
    already: tuple[Path, ...]
    left_out: tuple[LeftOut, ...]


def import_folder(  # noqa: PLR0913 - what is imported, and whereto
    record: Record,
    wound: str | Opening,
    folder: Path,
    by: str,
    tell: Callable[[str], None],
    *,
    manner: Manner = Manner(),
) -> Imported:
    """Make a visit of each photo in a folder and the folders in it.

    Parameters
    ----------
    record : Record
    wound : str or Opening
        Key such as ``P014/1``, or what to open. A wound of the person at the same site and of the same kind is taken
        instead of opening another, so that the same import can be run again.
    folder : Path
        May also be a single photo.
    by : str
        Initials or staff code of who imports.
    tell : callable
        Gets a line for each photo.
    manner : Manner

    Returns
    -------
    Imported

    Raises
    ------
    ImportingError
        If there are no photos, or the wound to open could be several.
    UnknownWoundError
        If there is no such wound.
    RecordError, PhotoFileError
        If the record can't take a photo; those before it are saved.

    Notes
    -----
    A photo that can't be read, has no scale, or no time is left out, and the rest goes on. Of several wounds in a photo
    the largest is measured, and a note says so.
    """
    check_method(manner.method)
    manner = replace(manner, accept=None if manner.accept is None else usable_reason(manner.accept))
    files, importer = _photos_in(Path(folder)), _Importer(record, wound, initials(by), manner)
    visits, already, left_out = [], [], []
    for number, file in enumerate(files, 1):
        outcome = importer.take(file)
        match outcome:
            case VisitEntry():
                visits.append(outcome)
            case LeftOut():
                left_out.append(outcome)
            case None:
                already.append(file)
        tell(f"[{number}/{len(files)}] {file.name}: {_told(outcome, manner.zone)}")
    return Imported(importer.wound, tuple(visits), tuple(already), tuple(left_out))


def _photos_in(folder: Path) -> list[Path]:
    """Return the photos by their names; hidden ones are previews and leftovers of programs."""
    files = [folder] if folder.is_file() else sorted(folder.rglob("*"))
    photos = [file for file in files if file.suffix.lower() in PHOTO_SUFFIXES and not _hidden(file, folder)]
    if not photos:
        raise ImportingError(
            f"There is no photo in {folder}; name a folder with JPEG, PNG, TIFF, WebP, HEIC or AVIF files in it."
        )
    return photos


def _hidden(file: Path, folder: Path) -> bool:
    return file.is_dir() or any(part.startswith(".") for part in file.relative_to(folder).parts)


def _told(outcome: VisitEntry | LeftOut | None, zone: tzinfo | None) -> str:
    """Say what became of a photo, in a line."""
    match outcome:
        case None:
            return "is in the record already"
        case LeftOut():
            return f"left out. {outcome.sentence}"
    start = f"visit of {outcome.at.astimezone(zone):%Y-%m-%d %H:%M}"
    if outcome.measurement is None:
        return f"{start}, no wound found"
    failed = [check["check"] for check in outcome.measurement.document["checks"] if not check["ok"]]
    end = f"; failed checks: {', '.join(failed)}" if failed else ""
    return f"{start}, area {_as_text(outcome.measurement.wound['area_cm2'])}{end}"


def _as_text(area: Mapping[str, Any]) -> str:
    """Say an area from a document, with its expanded uncertainty, as `measure.report.shown` does."""
    sigma = area["standard_uncertainty"]
    expanded = "unknown" if sigma is None else f"{COVERAGE_FACTOR * sigma:.2f}"
    return f"{area['value']:.2f} +- {expanded} cm2 (k = {COVERAGE_FACTOR:g})"


@dataclass(frozen=True, eq=False)
class _Taken:
    """A photo that can become a visit: as the record will keep it, when it was taken, and the numbers."""

    data: bytes
    at: datetime
    measurement: Measurement
    notes: tuple[str, ...]


class _Importer:
    """Makes visits of photos, to a wound that is there or is opened for the first of them."""

    def __init__(self, record: Record, wound: str | Opening, by: str, manner: Manner) -> None:
        self._record, self._by, self._manner = record, by, manner
        self._opening = wound if isinstance(wound, Opening) else None
        self.wound = _opened_before(record, wound) if isinstance(wound, Opening) else record.wound(wound)

    def take(self, file: Path) -> VisitEntry | LeftOut | None:
        """Make a visit of a photo; None where the wound has it already."""
        try:
            data = file_bytes(file, file.name)
        except PhotoError as error:
            return LeftOut(file, str(error))
        if self._has(hashlib.sha256(data).hexdigest()):
            return None
        try:
            taken = _taken(data, file, self._manner)
        except EbblineError as error:
            return LeftOut(file, str(error))
        except Exception as error:  # noqa: BLE001 - one photo must never take the others with it
            return LeftOut(file, _unforeseen(error))
        return self._save(taken)

    def _has(self, sha256: str) -> bool:
        """Whether the wound has a photo, as it came or as it is kept; asked anew, as two may import at once."""
        if self.wound is None:
            return False
        photos = (photo for visit in self._record.visits(self.wound.id) for photo in visit.photos)
        return any(sha256 in {photo.source_sha256, photo.sha256} for photo in photos)

    def _save(self, taken: _Taken) -> VisitEntry:
        """Keep the photo, then the visit in one act: a program that is stopped between them leaves no visit."""
        photo = self._record.put_photo(taken.data, "The photo")
        wound = self.wound = self.wound or self._open(taken.at)
        outlines, measured = _largest(taken.measurement, self._by)
        draft = VisitDraft(
            wound=wound.id,
            at=taken.at,
            by=self._by,
            unit=self._manner.unit,
            photo=photo,
            outlines=outlines,
            measured=measured,
            note="\n".join(taken.notes),
        )
        return self._record.save_visit(draft).visit

    def _open(self, at: datetime) -> WoundEntry:
        wanted = self._opening
        assert wanted is not None  # noqa: S101 - without one there is a wound from the beginning
        return self._record.open_wound(wanted.person, wanted.site, wanted.kind, self._by, at=at, onset=wanted.onset)


def _opened_before(record: Record, wanted: Opening) -> WoundEntry | None:
    """Return the wound that an import like this has opened before, if one has."""
    found = [
        wound
        for wound in record.wounds(wanted.person)
        if wound.kind is wanted.kind and _place(wound.site) == _place(wanted.site)
    ]
    if len(found) > 1:
        keys = ", ".join(wound.key for wound in found)
        raise ImportingError(
            f"This person has several wounds of this kind at this site, {keys}; say by its number which one the photos "
            "show."
        )
    return found[0] if found else None


def _place(site: Site) -> tuple[str, str, str]:
    return site.side, site.place.strip().casefold(), site.position.strip().casefold()


def _taken(data: bytes, file: Path, manner: Manner) -> _Taken:
    """Measure a photo as it will be kept, without its name."""
    photo = strip(data, file.name).photo
    at, said = _moment(photo, file, manner)
    prepared = prepare(replace(photo, name=""), method=manner.method)
    measurement = complete(prepared, convention=manner.convention, accept=manner.accept)
    return _Taken(data, at, measurement, (*_notes(measurement), *said))


def _moment(photo: Photo, file: Path, manner: Manner) -> tuple[datetime, tuple[str, ...]]:
    """Return the time of the visit, and what is to be said of it."""
    if usable := _usable(photo.taken_at, manner.zone):
        return usable, ()
    if manner.at:
        return manner.at, (_BY_HAND,)
    if manner.file_time:
        return datetime.fromtimestamp(file.stat().st_mtime, UTC), (_BY_FILE,)
    noted = "no capture time"
    if photo.taken_at:
        noted = f"{photo.taken_at.isoformat(' ', 'minutes')[:16]} as its capture time, which can't be"
    raise ImportingError(
        f"{photo.name} notes {noted}; give the time of the visit, or let the time count at which the file was last "
        "changed."
    )


def _usable(taken_at: datetime | None, zone: tzinfo | None) -> datetime | None:
    """Return a capture time with its zone; None for one that a clock can only show if it is wrong."""
    if taken_at is None or taken_at.year < _FIRST_YEAR:
        return None
    if taken_at.utcoffset() is None:
        taken_at = taken_at.replace(tzinfo=zone) if zone else taken_at.astimezone()
    return taken_at if taken_at <= datetime.now(UTC) + _AHEAD else None


def _unforeseen(error: Exception) -> str:
    if os.environ.get("EBBLINE_DEBUG"):
        raise error
    what = type(error).__name__
    return f"Something went wrong inside ebbline ({what}): run it again with EBBLINE_DEBUG=1 and report that."


def _notes(measurement: Measurement) -> Iterator[str]:
    """Yield what who opens the visit should know."""
    count = len(measurement.wounds)
    yield _UNCHECKED if count else _NO_OUTLINE
    if count > 1:
        yield f"{count} wounds were found in the photo, and the largest was measured: check that it is this one."
    if measurement.convention is Convention.HEAD_TO_TOE:
        yield _HEAD
    yield from (check.sentence for check in measurement.checks if not check.ok)


def _largest(measurement: Measurement, by: str) -> tuple[tuple[DraftOutline, ...], DraftMeasurement | None]:
    """Return all outlines that were proposed, and the numbers of the wound with the largest area."""
    areas = [wound.area.value for wound in measurement.wounds]
    return drawn(measurement, areas.index(max(areas)), by) if areas else ((), None)
