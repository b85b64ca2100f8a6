"""A HEIC or AVIF file without what it says beside the picture; the compressed picture is copied byte for byte.

What stays: the main picture, the tiles it is put together of, its transparency, and what a reader needs to show them.
What goes: previews, depth maps, further pictures and films, and all data items.
"""

from collections.abc import Iterator

from measure.record.items import Item, Items, Reference, read_items, written

_KEPT = frozenset(
    {b"hvcC", b"av1C", b"ispe", b"pixi", b"colr", b"irot", b"imir", b"clap", b"pasp", b"auxC", b"clli", b"mdcv"}
)
"""Properties that change how the picture looks (ISO/IEC 23008-12, 6.5; AVIF 1.1, 2.2)."""

_ALPHA = (b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0", b"urn:mpeg:hevc:2015:auxid:1\0")
"""What an additional picture calls itself that holds the transparency."""

_FILMS = (b"msf1", b"hevc", b"hevx", b"avis")
"""Brands of files that hold films too."""


def stripped_heif(data: bytes, exif: bytes) -> bytes:
    """Return a HEIC or AVIF file with its picture and colours alone, and an EXIF block that is given.

    Parameters
    ----------
    data : bytes
        A file with a main picture.
    exif : bytes
        As of `measure.record.kept_tags.exif_block`.

    Raises
    ------
    LookupError, EOFError, ValueError
        If the file is built in a way that can't be freed of the rest.
    """
    found = read_items(data)
    keys = _needed(found)
    items = {key: _bare(found.items[key]) for key in found.items if key in keys}
    references = tuple(reference for reference in found.references if {reference.source, *reference.targets} <= keys)
    if exif:
        block = max(items) + 1
        items[block] = Item(b"Exif", b"\0\0\0\6Exif\0\0" + exif, hidden=True)
        references = (*references, Reference(b"cdsc", block, (found.main,)))
    return written(Items(_brands(found.brands), found.main, items, references))


def _needed(found: Items) -> set[int]:
    """Numbers of the items that the main picture is made of."""
    needed, new = set[int](), {found.main}
    while new:
        needed |= new
        new = {key for reference in found.references for key in _followed(reference, found, needed)} - needed
    return needed


def _followed(reference: Reference, found: Items, needed: set[int]) -> Iterator[int]:
    if reference.kind == b"dimg" and reference.source in needed:
        yield from reference.targets
    if (
        reference.kind == b"auxl"
        and needed.intersection(reference.targets)
        and _is_alpha(found.items[reference.source])
    ):
        yield reference.source


def _is_alpha(item: Item) -> bool:
    return any(found.kind == b"auxC" and found.body[4:].startswith(_ALPHA) for found, _ in item.properties)


def _bare(item: Item) -> Item:
    """Take off what is not needed to show an item; what a reader must understand, and is not known here, may not go."""
    kept = tuple((found, essential) for found, essential in item.properties if found.kind in _KEPT)
    if any(essential and found.kind not in _KEPT for found, essential in item.properties):
        raise ValueError(item.kind)
    return item._replace(properties=kept)


def _brands(body: bytes) -> bytes:
    """Return what kinds of file it is, without those that hold films."""
    main, compatible = body[:4], [body[start : start + 4] for start in range(8, len(body), 4)]
    if main in _FILMS:
        raise ValueError(main)
    return main + bytes(4) + b"".join(brand for brand in compatible if brand not in _FILMS)
