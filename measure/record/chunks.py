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


_ALPHA_FLAG, _EXIF_FLAG, _COLOURS_FLAG = 0x10, 0x08, 0x20
_EXTENDED, _LOSSY, _LOSSLESS = b"VP8X", b"VP8 ", b"VP8L"


def stripped_webp(data: bytes, exif: bytes) -> bytes:
    """Return a WebP file with its picture and colours alone, and an EXIF block that is given (RFC 9649, 2.7).

    Parameters
    ----------
    data : bytes
        A WebP file with one picture that does not move.
    exif : bytes
        As of `measure.record.kept_tags.exif_block`.

    Raises
    ------
    KeyError
        If there is no such picture in it.
    """
    found = dict(reversed(list(_webp_chunks(data))))  # of several of a kind the first
    picture = _LOSSLESS if _LOSSLESS in found else _LOSSY
    kept = [(kind, found[kind]) for kind in (b"ICCP", b"ALPH") if kind in found] + [(picture, found[picture])]
    kept += [(b"EXIF", exif)] if exif else []
    body = b"".join(_webp_chunk(kind, part) for kind, part in [(_EXTENDED, _webp_header(kept)), *kept])
    return b"RIFF" + (len(body) + 4).to_bytes(4, "little") + b"WEBP" + body


def _webp_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield kind and body of each chunk; whatever follows the length that the file notes is not looked at."""
    position, end = 12, min(len(data), int.from_bytes(data[4:8], "little") + 8)
    while position < end:
        length = int.from_bytes(data[position + 4 : position + 8], "little")
        yield data[position : position + 4], data[position + 8 : position + 8 + length]
        position += 8 + length + length % 2


def _webp_chunk(kind: bytes, body: bytes) -> bytes:
    return kind + len(body).to_bytes(4, "little") + body + bytes(len(body) % 2)


def _webp_header(kept: list[tuple[bytes, bytes]]) -> bytes:
    """Return what an extended file says of itself: which chunks there are, and the size."""
    parts = dict(kept)
    if _LOSSLESS in parts:  # RFC 9649, 3.4: a byte, then 14 bits each for width and height less 1, and transparency
        bits = int.from_bytes(parts[_LOSSLESS][1:5], "little")
        width, height, alpha = bits & 0x3FFF, bits >> 14 & 0x3FFF, bits >> 28 & 1
    else:  # RFC 6386, 9.1: a frame's tag and start code, then 14 bits each for width and height
        sides = (int.from_bytes(parts[_LOSSY][at : at + 2], "little") & 0x3FFF for at in (6, 8))
        width, height = (side - 1 for side in sides)
        alpha = b"ALPH" in parts
    flags = _ALPHA_FLAG * alpha | _EXIF_FLAG * (b"EXIF" in parts) | _COLOURS_FLAG * (b"ICCP" in parts)
    return bytes((flags, 0, 0, 0)) + width.to_bytes(3, "little") + height.to_bytes(3, "little")
