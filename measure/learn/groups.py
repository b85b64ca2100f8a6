"""Reads which photographs show the same wound: ``groups.csv``, with the columns name and group."""

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from measure.learn.picture import ExamplesError

_NAMED = 5  # in a sentence; of more the number is told


def read_groups(path: Path, photos: Sequence[Path]) -> dict[str, str]:
    """Return the group of each photograph, by its name without ending; without a table each is its own.

    Parameters
    ----------
    path : Path
        Of the table. Names may have an ending or not.
    photos : sequence of Path

    Raises
    ------
    ExamplesError
        If the table can't be read, names no photograph in a row, or lacks a row or a group of one.
    """
    if not path.exists():
        return {photo.stem: photo.stem for photo in photos}
    stems = {photo.stem: photo.stem for photo in photos} | {photo.name: photo.stem for photo in photos}
    rows = _rows(path)
    strange = [name for name, _ in rows if name not in stems]
    if strange:
        raise ExamplesError(
            f"{path} names photographs that are not there: {listed(strange)}; correct or remove the rows."
        )
    groups: dict[str, str] = {}
    for name, group in rows:
        if groups.setdefault(stems[name], group) != group:
            raise ExamplesError(f"{path} puts {name} into two groups, {groups[stems[name]]} and {group}; keep one row.")
    lacking = [photo.name for photo in photos if not groups.get(photo.stem)]
    if lacking:
        raise ExamplesError(
            f"{path} names no group for {listed(lacking)}; give each photograph a row with its group, "
            "the same for all photographs of one wound, whatever the day."
        )
    return groups


def _rows(path: Path) -> list[tuple[str, str]]:
    try:
        with path.open(newline="", encoding="utf-8-sig") as lines:
            rows = csv.DictReader(lines)
            if not {"name", "group"} <= set(rows.fieldnames or ()):
                raise ExamplesError(f"{path} has the columns {rows.fieldnames}; expected are name and group.")
            return [((row["name"] or "").strip(), (row["group"] or "").strip()) for row in rows]
    except UnicodeDecodeError as error:
        raise ExamplesError(f"{path} is not written in UTF-8; save it again as 'CSV UTF-8'.") from error
    except (OSError, csv.Error) as error:
        raise ExamplesError(f"{path} can't be read as a table ({error}); save it again as 'CSV UTF-8'.") from error


def listed(names: Iterable[str]) -> str:
    """Name the first few in a sentence, and tell how many more there are."""
    names = list(names)
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
