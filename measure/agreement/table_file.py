"""A table of measurements in a text file: CSV as spreadsheets in any country save it."""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

import numpy as np

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Names, Observations

NEEDED = ("subject", "rater", "value")
"""Columns that every table has; their order and case don't matter, and neither do further columns."""

OPTIONAL = ("trial", "method")

_SIGNS = (";", "\t", ",")  # between columns; tried in this order
_POINT = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)(e[+-]?[0-9]+)?", re.IGNORECASE)
_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+(e[+-]?[0-9]+)?", re.IGNORECASE)
_LIKE_NUMBER = re.compile(r"[+-]?[0-9.,'\s]*[0-9][0-9.,'\s]*")  # what else is made of digits is a number gone wrong


@dataclass(frozen=True)
class _Row:
    """A row of the table, stripped; ``value`` is empty where nothing was measured."""

    line: int
    subject: str
    rater: str
    trial: str
    method: str
    value: str


def read_observations(source: Path | bytes, *, unit: str = "") -> Observations:
    """Read the columns subject, rater and value, and trial and method where they are.

    Columns are separated by commas, semicolons or tabs; with the latter two a decimal comma is understood. Rows
    without a value are counted as missing. Values are numbers if all are, and categories if none is.

    Parameters
    ----------
    source : Path or bytes
        A file, or what it holds.
    unit : str
        Of the values.

    Raises
    ------
    AgreementError
        If there is no such file or it is no such table; the sentence names the line.
    """
    text = _text(_content(source))
    table = _Table.of(text)
    rows = _numbered(list(table.rows()))
    kept = [row for row in rows if row.value]
    if not kept:
        raise AgreementError(f"None of the table's {len(rows)} rows holds a value; fill in the column value.")
    values = _numbers(kept, table.separator)
    columns = {name: _names(kept, name) for name in ("subject", "rater", "trial", "method")}
    return Observations(
        **columns,
        value=_names(kept, "value") if values is None else np.array(values, dtype=np.float64),
        unit=unit,
        missing=len(rows) - len(kept),
    )


def _content(source: Path | bytes) -> bytes:
    if isinstance(source, bytes):
        return source
    try:
        return source.read_bytes()
    except OSError as error:
        raise AgreementError(
            f"{source} can't be read ({error.strerror or error}); name a CSV file with the columns subject, rater and "
            "value."
        ) from error


def _text(content: bytes) -> str:
    """Decode a table: UTF-8, UTF-16 by its mark, else the code page of western Windows."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise AgreementError("The file is no text; save the table as CSV (UTF-8) and give that file.")


@dataclass(frozen=True)
class _Table:
    """The lines of a table, and where its columns stand.

    Attributes
    ----------
    lines : tuple of (int, tuple of str)
        Number in the file, and cells.
    separator : str
    places : mapping of str to int
    width : int
        Cells of the heading.
    """

    lines: tuple[tuple[int, tuple[str, ...]], ...]
    separator: str
    places: dict[str, int]
    width: int

    @classmethod
    def of(cls, text: str) -> Self:
        """Find the separator with which the heading names the columns, and read on with it."""
        heading, separator = _heading(text)
        return cls(tuple(_lines(text, separator)[1:]), separator, _places(heading), len(heading))

    def rows(self) -> Iterator[_Row]:
        """Yield the rows."""
        for line, cells in self.lines:
            if any(cells[self.width :]):
                raise AgreementError(
                    f"Line {line} has {len(cells)} cells, and the heading {self.width}; with decimal commas, separate "
                    "the columns by semicolons or tabs."
                )
            row = _Row(line, **{name: self._cell(cells, name) for name in (*NEEDED, *OPTIONAL)})
            for name in ("subject", "rater"):
                if not getattr(row, name):
                    raise AgreementError(f"Line {line} names no {name}; fill it in, or take the line out.")
            yield row

    def _cell(self, cells: tuple[str, ...], name: str) -> str:
        place = self.places.get(name, len(cells))
        return cells[place] if place < len(cells) else ""


def _heading(text: str) -> tuple[list[str], str]:
    """Return the names of the columns in small letters, and what separates them."""
    first = next((line for line in text.splitlines() if _holds_cells(line)), "")
    if not first:
        raise AgreementError("The file is empty; give a table with the columns subject, rater and value.")
    cells = {sign: next(iter(_lines(first, sign, strict=False)), (1, ()))[1] for sign in _SIGNS}
    headings = {sign: [cell.casefold() for cell in names] for sign, names in cells.items()}
    for separator, heading in headings.items():
        if set(NEEDED) <= set(heading):
            return heading, separator
    raise _no_heading(max(headings.values(), key=len))


def _tidy(cell: str) -> str:
    """Return a cell on one line, without spaces round it."""
    return " ".join(cell.split())


def _holds_cells(line: str) -> bool:
    """Tell whether a line is neither blank nor the one in which a spreadsheet names its separator."""
    return bool(line.strip(' "' + "".join(_SIGNS))) and not line.startswith("sep=")


def _lines(text: str, separator: str, *, strict: bool = True) -> list[tuple[int, tuple[str, ...]]]:
    """Return the lines that hold anything, with their numbers; the heading first."""
    source = io.StringIO(text, newline="")
    reader = csv.reader(source, delimiter=separator, skipinitialspace=True, strict=strict)
    try:
        lines = [(reader.line_num, tuple(_tidy(cell) for cell in cells)) for cells in reader]
    except csv.Error as error:
        raise AgreementError(
            f"Line {reader.line_num} of the table can't be read ({error}); look for a quotation mark without its other."
        ) from error
    return [(line, cells) for line, cells in lines if any(cells) and not cells[0].startswith("sep=")]


def _places(heading: list[str]) -> dict[str, int]:
    """Return where the columns stand."""
    for name in (*NEEDED, *OPTIONAL):
        if heading.count(name) > 1:
            raise AgreementError(f"The heading names the column {name} {heading.count(name)} times; keep one.")
    return {name: heading.index(name) for name in (*NEEDED, *OPTIONAL) if name in heading}


def _no_heading(heading: list[str]) -> AgreementError:
    missing = [name for name in NEEDED if name not in heading]
    found = ", ".join(name[:30] for name in heading[:8])
    return AgreementError(
        f"The first line must name the columns subject, rater and value; {' and '.join(missing)} "
        f"{'is' if len(missing) == 1 else 'are'} not among {found}."
    )


def _numbered(rows: list[_Row]) -> list[_Row]:
    """Return the rows with trials numbered in their order, those without a value too, where nobody numbered them."""
    if not rows:
        raise AgreementError("The table has a heading and no rows; add a row for each measurement.")
    for name in OPTIONAL:
        _all_or_none(rows, name)
    if rows[0].trial:
        return rows
    met: Counter[tuple[str, str, str]] = Counter()
    numbered = []
    for row in rows:
        key = row.subject, row.rater, row.method
        met[key] += 1
        numbered.append(replace(row, trial=str(met[key])))
    return numbered


def _all_or_none(rows: list[_Row], name: str) -> None:
    filled = [bool(getattr(row, name)) for row in rows]
    if any(filled) and not all(filled):
        line = rows[filled.index(False)].line
        raise AgreementError(f"Line {line} names no {name}, and other lines do; fill it in everywhere or nowhere.")


def _numbers(rows: list[_Row], separator: str) -> list[float] | None:
    """Return the values as numbers; None if they are categories."""
    texts = [row.value.replace("\N{MINUS SIGN}", "-") for row in rows]
    _refuse_unclear(rows, texts, separator)
    numeric = [bool(_POINT.fullmatch(text) or _COMMA.fullmatch(text)) for text in texts]
    if not any(numeric):
        return None
    if not all(numeric):
        rarer = sum(numeric) * 2 < len(numeric)
        raise _mixed(rows[numeric.index(rarer)], number=rarer)
    return [float(text.replace(",", ".")) for text in texts]


def _mixed(row: _Row, *, number: bool) -> AgreementError:
    here, elsewhere = ("a number", "none") if number else ("no number", "numbers")
    return AgreementError(
        f"Line {row.line} holds {row.value!r}, {here}, and other lines hold {elsewhere}; give numbers alone or "
        "categories alone, and leave the cell empty where nothing was measured."
    )


def _refuse_unclear(rows: list[_Row], texts: list[str], separator: str) -> None:
    """Refuse numbers that could be read in two ways."""
    commas = [bool(_COMMA.fullmatch(text)) for text in texts]
    points = [bool(_POINT.fullmatch(text)) and "." in text for text in texts]
    for row, text, comma in zip(rows, texts, commas, strict=True):
        plain = _POINT.fullmatch(text) or (comma and separator != ",")
        if not plain and (comma or _LIKE_NUMBER.fullmatch(text)):
            raise AgreementError(
                f"Line {row.line} holds {row.value!r}, which can't be read as a number; write it like 1234.5, or with "
                "a decimal comma in a table whose columns are separated by semicolons or tabs."
            )
    if any(commas) and any(points):
        rarer = commas if sum(commas) <= sum(points) else points
        row = rows[rarer.index(True)]
        raise AgreementError(
            f"Line {row.line} holds {row.value!r}, and other lines have another decimal sign; use a comma or a point "
            "throughout, and nothing between thousands."
        )


def _names(rows: list[_Row], name: str) -> Names:
    return np.array([getattr(row, name) for row in rows], dtype=np.str_)
