"""A JPEG file without what it says beside the picture; the compressed picture is copied byte for byte.

What stays (ITU-T T.81, annex B): tables, frames, scans. Of the application segments only those that change how the
picture looks: the colour transform of JFIF (ITU-T T.871) and of Adobe, and the ICC profile. The thumbnail in the JFIF
segment and whatever follows the end of the picture (second pictures, depth maps, films) go.
"""

import re
from collections.abc import Iterator

_START = b"\xff\xd8"
_END = b"\xff\xd9"
_EXIF = b"Exif\0\0"
_SCAN = 0xDA
_STAND_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
"""Markers that no length follows: TEM, and restarts, which outside of a scan say nothing."""

_PICTURE = frozenset({*range(0xC0, 0xD0), 0xDA, 0xDB, 0xDC, 0xDD} - {0xC8})
"""Frames, tables, scans, number of lines, restart interval; not those of kinds that nothing reads (C8, DE, DF)."""

_MARKER = re.compile(rb"\xff+([^\x00\xff])")
_AFTER_SCAN = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")


def stripped_jpeg(data: bytes, exif: bytes) -> bytes:
    """Return a JPEG file with its picture and colours alone, and an EXIF block that is given.

    Parameters
    ----------
    data : bytes
        A JPEG file whose end is there.
    exif : bytes
        As of `measure.record.kept_tags.exif_block`.
    """
    first, *rest = _kept(data)
    block = _segment(0xE1, _EXIF + exif) if exif else b""
    opening = (first, block) if _is_jfif(first) else (block, first)
    return b"".join((_START, *opening, *rest, _END))


def _kept(data: bytes) -> Iterator[bytes]:
    """Yield the segments that stay, each with the compressed data that follow it."""
    position = len(_START)
    while (marker := _MARKER.search(data, position)) and marker[1] != _END[1:]:
        code, position = marker[1][0], marker.end()
        if code in _STAND_ALONE:
            continue
        start, position = position + 2, position + int.from_bytes(data[position : position + 2], "big")
        body = _body(code, data[start:position])
        if body is None:
            continue
        end = _scan_end(data, position) if code == _SCAN else position
        yield _segment(code, body) + data[position:end]
        position = end


def _scan_end(data: bytes, position: int) -> int:
    """Return where the compressed data end that begin here: 0xFF in them is followed by 0 or a restart (B.1.1)."""
    marker = _AFTER_SCAN.search(data, position)
    return marker.start() if marker else len(data)


def _body(code: int, body: bytes) -> bytes | None:
    """Return what stays of a segment; None where nothing does."""
    if code in _PICTURE:
        return body
    if code == 0xE0 and body.startswith(b"JFIF\0"):
        return body[:12] + b"\0\0"  # version and density; no thumbnail
    if code == 0xE2 and body.startswith(b"ICC_PROFILE\0"):
        return body
    if code == 0xEE and body.startswith(b"Adobe"):
        return body[:12]
    return None


def _is_jfif(segment: bytes) -> bool:
    return segment[1] == 0xE0


def _segment(code: int, body: bytes) -> bytes:
    return bytes((0xFF, code)) + (len(body) + 2).to_bytes(2, "big") + body
