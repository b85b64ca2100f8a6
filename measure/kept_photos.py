"""Photos in memory under signed links that go stale, for the pages that show them; nothing is written to a disk.

A photo is kept for one visit of one person to the pages, as two JPEG pictures without any EXIF data: a preview and the
whole. A picture that was made of photos for a page is kept likewise, as one file. Their links hold a signature that
only this process can make, and answer for an hour after the page last asked for them, so that a link that was passed on
or overheard soon opens nothing. The links stay the same while the page goes on asking, so that a browser does not load
a picture twice. What is kept is bounded: the photo that was asked for longest ago is dropped first.
"""

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal, NamedTuple, get_args

import cv2
import numpy as np

from calibration.errors import EbblineError
from measure.photo import Photo, Pixels

PREVIEW_SIDE_PX = 2048
"""Longer side of a preview: fills a tablet's screen, and is a tenth of the bytes of 12 megapixels."""

QUALITY = 90
"""Of JPEG, from 0 to 100: what is seen while the edge is drawn; numbers never come from these pictures."""

LEASE_S = 3600.0
"""How long links answer after the page last asked for them: a dressing change, with a call in between."""

MAX_KEPT_MB = 256
"""Some fifty photos of 12 megapixels; the newest is kept whatever its size."""

Size = Literal["preview", "full"]

_MADE = "made"  # stands in the place of a size in the link of a picture that was made for a page
_BARE = b"\xff\xd8\xff\xe0"  # how a JPEG file begins that was made from pixels: with JFIF's own segment
_EXIF, _HEAD = b"Exif\0\0", 4096  # bytes in which EXIF data would follow it


class PhotoLinkError(EbblineError):
    """A link to a photo that opens nothing; ``status`` is HTTP's number for why."""

    code = "unusable-link"
    status: ClassVar[int] = 403


class PhotoGoneError(PhotoLinkError):
    """A link that was right, to a photo that is no longer kept."""

    code = "photo-gone"
    status = 404


class PhotoLinks(NamedTuple):
    """Addresses of a photo below the server's own: ``/photo/...``."""

    preview: str
    full: str


@dataclass
class _Kept:
    pictures: Mapping[str, bytes]
    expires_s: float

    @property
    def size(self) -> int:
        return sum(len(picture) for picture in self.pictures.values())


class KeptPhotos:
    """The photos that somebody looks at now.

    Parameters
    ----------
    max_bytes : int
        Of all pictures together.
    lease_s : float
        How long links answer after they were last asked for, in seconds.
    clock : callable
        Gives seconds that only ever rise.
    """

    def __init__(
        self,
        max_bytes: int = MAX_KEPT_MB * 1_000_000,
        lease_s: float = LEASE_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._max_bytes, self._lease_s, self._clock = max_bytes, lease_s, clock
        self._key = secrets.token_bytes(32)
        self._kept: dict[str, _Kept] = {}  # the one asked for last stands last
        self._lock = threading.Lock()

    def links(self, photo: Photo, visit: str) -> PhotoLinks:
        """Keep a photo for an hour from now, and return its links: for one visit always the same.

        Parameters
        ----------
        photo : Photo
            Its pixels stand upright.
        visit : str
            What nobody else knows of this visit; other visits get other links.
        """
        name = self._sign(f"{visit} {photo.sha256}")[:32]
        with self._lock:
            kept = self._kept.get(name)
        self._keep(name, kept.pictures if kept else _pictures(photo))
        return PhotoLinks(*(self._link(name, size) for size in get_args(Size)))

    def link(self, picture: bytes, visit: str) -> str:
        """Keep a picture that was made for a page for an hour from now, and return its link: for one visit the same.

        Parameters
        ----------
        picture : bytes
            A JPEG file made from pixels alone.
        visit : str
            As of `links`.

        Raises
        ------
        ValueError
            If the file is no JPEG, or holds EXIF data.
        """
        if not picture.startswith(_BARE) or _EXIF in picture[:_HEAD]:
            raise ValueError("Only a JPEG file that was made from pixels alone is kept: encode the picture anew.")
        name = self._sign(f"{visit} made {hashlib.sha256(picture).hexdigest()}")[:32]
        self._keep(name, {_MADE: picture})
        return self._link(name, _MADE)

    def picture(self, name: str, size: str, signature: str) -> bytes:
        """Return the JPEG file behind a link.

        Raises
        ------
        PhotoLinkError
            If the link was not made here.
        PhotoGoneError
            If the photo is no longer kept.
        """
        if not hmac.compare_digest(self._sign(name, size).encode(), signature.encode()):
            raise PhotoLinkError("This link to a photo is not signed as it should be: open the photo from its page.")
        with self._lock:
            self._drop()
            kept = self._kept.get(name)
        if kept and size in kept.pictures:
            return kept.pictures[size]
        raise PhotoGoneError("This photo is no longer kept here: go back to its page, or choose the photo again.")

    def _keep(self, name: str, pictures: Mapping[str, bytes]) -> None:
        with self._lock:
            self._kept.pop(name, None)
            self._kept[name] = _Kept(pictures, self._clock() + self._lease_s)
            self._drop()

    def _link(self, name: str, size: str) -> str:
        return f"/photo/{name}/{size}.jpg?signature={self._sign(name, size)}"

    def _sign(self, *parts: str) -> str:
        return hmac.new(self._key, "/".join(parts).encode(), hashlib.sha256).hexdigest()

    def _drop(self) -> None:
        """Drop what is out of date, then the oldest until the rest fits; the newest stays."""
        now = self._clock()
        self._kept = {name: kept for name, kept in self._kept.items() if kept.expires_s > now}
        total = sum(kept.size for kept in self._kept.values())
        for name in list(self._kept)[:-1]:
            if total <= self._max_bytes:
                return
            total -= self._kept.pop(name).size


KEPT = KeptPhotos()
"""Those of this process: the pages put photos in, the server's route takes pictures out."""


def _pictures(photo: Photo) -> Mapping[str, bytes]:
    """Encode a photo's pixels; a JPEG file made from pixels alone holds no EXIF data."""
    scale = PREVIEW_SIDE_PX / max(photo.width, photo.height)
    full = _jpeg(photo.pixels)
    if scale >= 1:
        return {"preview": full, "full": full}
    size = (max(1, round(photo.width * scale)), max(1, round(photo.height * scale)))
    small = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    return {"preview": _jpeg(np.asarray(small, dtype=np.uint8)), "full": full}


def _jpeg(pixels: Pixels) -> bytes:
    return bytes(cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1])
