"""Boxes of ISO/IEC 14496-12, of which HEIC and AVIF files are built: read from bytes, and made."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple


class Box(NamedTuple):
    """A box: its type of four letters, and what is in it."""

    kind: bytes
    body: bytes


@dataclass
class Cursor:
    """Bytes that are read from front to back; numbers in them begin with the greatest digit."""

    data: bytes
    position: int = 0

    def take(self, count: int) -> bytes:
        """Return the next bytes.

        Raises
        ------
        EOFError
            If there are fewer.
        """
        taken = self.data[self.position : self.position + count]
        if len(taken) < count:
            raise EOFError
        self.position += count
        return taken

    def number(self, size: int) -> int:
        """Return the number of so many bytes; 0 of none."""
        return int.from_bytes(self.take(size), "big")

    def version(self) -> tuple[int, int]:
        """Return version and flags of a full box."""
        return self.number(1), self.number(3)

    @property
    def left(self) -> int:
        """How many bytes are still to be read."""
        return len(self.data) - self.position


def boxes(data: bytes) -> Iterator[Box]:
    """Yield the boxes that stand one after the other."""
    cursor = Cursor(data)
    while cursor.left:
        size, kind, header = cursor.number(4), cursor.take(4), 8
        if size == 1:
            size, header = cursor.number(8), 16
        length = cursor.left if size == 0 else size - header
        if length < 0:
            raise EOFError
        yield Box(kind, cursor.take(length))


def box(kind: bytes, *parts: bytes) -> bytes:
    """Return a box with these parts in it."""
    body = b"".join(parts)
    return number(len(body) + 8, 4) + kind + body


def full_box(kind: bytes, *parts: bytes, version: int = 0, flags: int = 0) -> bytes:
    """Return a box that begins with version and flags."""
    return box(kind, number(version, 1), number(flags, 3), *parts)


def number(value: int, size: int) -> bytes:
    """Return a number as so many bytes, the greatest digit first."""
    return value.to_bytes(size, "big")
