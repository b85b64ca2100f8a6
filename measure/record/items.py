"""The items of a HEIC or AVIF file (ISO/IEC 23008-12): pictures, the parts they are made of, and data on them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from measure.record.boxes import Box, Cursor, box, boxes, full_box, number


class Item(NamedTuple):
    """A picture, a part of one, or data.

    Attributes
    ----------
    kind : bytes
        As ``hvc1``, ``grid`` or ``Exif``.
    data : bytes
    properties : tuple of (Box, bool)
        What is true of it, as its size or turn, and whether a reader must understand it.
    hidden : bool
        Whether it is not to be shown by itself.
    in_meta : bool
        Whether its data lie beside the tables, as those of grids do, and not among the compressed pictures.
    """

    kind: bytes
    data: bytes
    properties: tuple[tuple[Box, bool], ...] = ()
    hidden: bool = False
    in_meta: bool = False


class Reference(NamedTuple):
    """What one item is to others, by their numbers: ``dimg`` made of them, ``auxl`` an addition, ``thmb`` a preview."""

    kind: bytes
    source: int
    targets: tuple[int, ...]


@dataclass(frozen=True)
class Items:
    """All items of a file, by their numbers, and which of them is the picture."""

    brands: bytes
    main: int
    items: Mapping[int, Item]
    references: tuple[Reference, ...]


def read_items(data: bytes) -> Items:
    """Read the items of a file.

    Raises
    ------
    LookupError, EOFError, ValueError
        If the file is built in another way.
    """
    top = _by_kind(boxes(data))
    inside = _by_kind(boxes(top[b"meta"][4:]))
    kinds, places = _kinds(inside[b"iinf"]), _places(inside[b"iloc"])
    properties = _properties(inside[b"iprp"])
    stores = {0: data, 1: inside.get(b"idat", b"")}
    items = {
        key: Item(
            kind,
            b"".join(_part(stores[method], *extent) for extent in extents),
            properties.get(key, ()),
            hidden=hidden,
            in_meta=method == 1,
        )
        for key, (kind, hidden) in kinds.items()
        for method, extents in [places.get(key, (0, ()))]
    }
    version, cursor = inside[b"pitm"][0], Cursor(inside[b"pitm"], 4)
    references = tuple(_references(inside[b"iref"])) if b"iref" in inside else ()
    return Items(top[b"ftyp"], cursor.number(4 if version else 2), items, references)


def _by_kind(found: Iterator[Box]) -> dict[bytes, bytes]:
    """Bodies of boxes by their kinds; of several of a kind the first."""
    kept: dict[bytes, bytes] = {}
    for kind, body in found:
        kept.setdefault(kind, body)
    return kept


def _part(store: bytes, start: int, length: int) -> bytes:
    return Cursor(store, start).take(length) if length else store[start:]


def _kinds(body: bytes) -> dict[int, tuple[bytes, bool]]:
    """Kind of each item, and whether it is hidden."""
    cursor = Cursor(body)
    version, _ = cursor.version()
    cursor.number(4 if version else 2)  # how many
    return dict(_kind(Cursor(entry.body)) for entry in boxes(cursor.take(cursor.left)))


def _kind(entry: Cursor) -> tuple[int, tuple[bytes, bool]]:
    version, flags = entry.version()
    if version not in {2, 3}:
        raise ValueError(version)
    key, _ = entry.number(4 if version == 3 else 2), entry.number(2)
    return key, (entry.take(4), bool(flags & 1))


Place = tuple[int, tuple[tuple[int, int], ...]]
"""In which store the data lie (0 the file, 1 the box beside the tables), and start and length of their parts."""


def _places(body: bytes) -> dict[int, Place]:
    cursor = Cursor(body)
    version, _ = cursor.version()
    sizes = cursor.number(2)
    offset, length, base, index = (sizes >> shift & 15 for shift in (12, 8, 4, 0))
    wide = 4 if version == 2 else 2
    places: dict[int, Place] = {}
    for _ in range(cursor.number(wide)):
        key = cursor.number(wide)
        method = cursor.number(2) & 15 if version else 0
        elsewhere = cursor.number(2)
        if elsewhere:
            raise ValueError(elsewhere)
        start = cursor.number(base)
        extents = []
        for _ in range(cursor.number(2)):
            cursor.number(index if version else 0)
            extents.append((start + cursor.number(offset), cursor.number(length)))
        places[key] = (method, tuple(extents))
    return places


def _properties(body: bytes) -> dict[int, tuple[tuple[Box, bool], ...]]:
    inside = list(boxes(body))
    shared = list(boxes(next(part.body for part in inside if part.kind == b"ipco")))
    found: dict[int, tuple[tuple[Box, bool], ...]] = {}
    for part in inside:
        if part.kind == b"ipma":
            found |= _associated(Cursor(part.body), shared)
    return found


def _associated(cursor: Cursor, shared: list[Box]) -> dict[int, tuple[tuple[Box, bool], ...]]:
    version, flags = cursor.version()
    size = 2 if flags & 1 else 1
    essential = 1 << (8 * size - 1)
    found: dict[int, tuple[tuple[Box, bool], ...]] = {}
    for _ in range(cursor.number(4)):
        key = cursor.number(4 if version else 2)
        marks = [cursor.number(size) for _ in range(cursor.number(1))]
        found[key] = tuple((shared[(mark & ~essential) - 1], bool(mark & essential)) for mark in marks)
    return found


def _references(body: bytes) -> Iterator[Reference]:
    cursor = Cursor(body)
    version, _ = cursor.version()
    size = 4 if version else 2
    for entry in boxes(cursor.take(cursor.left)):
        inside = Cursor(entry.body)
        source = inside.number(size)
        yield Reference(entry.kind, source, tuple(inside.number(size) for _ in range(inside.number(2))))


def written(kept: Items) -> bytes:
    """Return a file with these items and nothing else; they are numbered anew, and have no names."""
    numbers = {key: place for place, key in enumerate(kept.items, 1)}
    items = list(kept.items.values())
    tables = (
        full_box(b"hdlr", bytes(4), b"pict", bytes(13)),
        full_box(b"pitm", number(numbers[kept.main], 2)),
        _kinds_box(items),
        *_references_box(kept, numbers),
        _properties_box(items),
    )
    beside = box(b"idat", *(item.data for item in items if item.in_meta)) if any(i.in_meta for i in items) else b""
    start = box(b"ftyp", kept.brands)
    length = len(full_box(b"meta", *tables, _places_box(items, 0), beside))
    meta = full_box(b"meta", *tables, _places_box(items, len(start) + length + 8), beside)
    return start + meta + box(b"mdat", *(item.data for item in items if not item.in_meta))


def _kinds_box(items: list[Item]) -> bytes:
    entries = (
        full_box(b"infe", number(place, 2), bytes(2), item.kind, bytes(1), version=2, flags=int(item.hidden))
        for place, item in enumerate(items, 1)
    )
    return full_box(b"iinf", number(len(items), 2), *entries)


def _references_box(kept: Items, numbers: Mapping[int, int]) -> tuple[bytes, ...]:
    entries = [
        box(kind, *(number(value, 2) for value in (numbers[source], len(targets), *(numbers[key] for key in targets))))
        for kind, source, targets in kept.references
    ]
    return (full_box(b"iref", *entries),) if entries else ()


def _properties_box(items: list[Item]) -> bytes:
    shared = list(dict.fromkeys(found for item in items for found, _ in item.properties))
    entries = (
        number(place, 2) + number(len(item.properties), 1) + b"".join(_mark(shared, *one) for one in item.properties)
        for place, item in enumerate(items, 1)
        if item.properties
    )
    associated = full_box(b"ipma", number(sum(bool(item.properties) for item in items), 4), *entries, flags=1)
    return box(b"iprp", box(b"ipco", *(box(*found) for found in shared)), associated)


def _mark(shared: list[Box], found: Box, essential: bool) -> bytes:  # noqa: FBT001 - as it stands in the file
    return number(essential << 15 | shared.index(found) + 1, 2)


def _places_box(items: list[Item], start: int) -> bytes:
    """Tell where each item's data lie: offsets of four bytes in the file, or in the box beside the tables."""
    entries, nexts = [], {False: start, True: 0}
    for place, item in enumerate(items, 1):
        fields = ((place, 2), (item.in_meta, 2), (0, 2), (1, 2), (nexts[item.in_meta], 4), (len(item.data), 4))
        entries.append(b"".join(number(value, size) for value, size in fields))
        nexts[item.in_meta] += len(item.data)
    return full_box(b"iloc", b"\x44\0", number(len(items), 2), *entries, version=1)
