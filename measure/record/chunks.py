"""PNG and WebP files without what they say beside the picture; the compressed picture is copied byte for byte."""

import zlib
from collections.abc import Iterator

_PNG_START = b"\x89PNG\r\n\x1a\n"

_PNG_KEPT = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT", b"cICP", b"mDCV"}
)
"""Chunks that change how the picture looks (W3C, Portable Network Graphics, third edition, 11.2 and 11.3.2)."""


def stripped_png(data: bytes, exif: bytes) -> bytes:
    """Return a PNG file with its picture and colours alone, and an EXIF block that is given.

    Parameters
    ----------
    data : bytes
        A PNG file with one picture.
    exif : bytes
        As of `measure.record.kept_tags.exif_block`.
    """
    header, *rest = ((kind, body) for kind, body in _png_chunks(data) if kind in _PNG_KEPT)
    extra = [(b"eXIf", exif)] if exif else []
    return _PNG_START + b"".join(_png_chunk(kind, _unnamed(kind, body)) for kind, body in (header, *extra, *rest))


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield kind and body of each chunk up to the end of the picture."""
    position, kind = len(_PNG_START), b""
    while kind != b"IEND":
        length, kind = int.from_bytes(data[position : position + 4], "big"), data[position + 4 : position + 8]
        if not kind:
            raise EOFError
        yield kind, data[position + 8 : position + 8 + length]
        position += length + 12


def _unnamed(kind: bytes, body: bytes) -> bytes:
    """Take the name out of a colour profile's chunk, where a person's may stand."""
    return b"ICC profile\0" + body.partition(b"\0")[2] if kind == b"iCCP" else body


def _png_chunk(kind: bytes, body: bytes) -> bytes:
    return len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")
