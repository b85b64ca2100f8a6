"""Raters as letters, for all who need not know who measured what."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from hashlib import sha256
from string import ascii_uppercase

import numpy as np

from measure.agreement.observations import Observations

_NAMED = "rater "


def letters(raters: Iterable[str]) -> Mapping[str, str]:
    """Return for each rater ``rater A``, ``rater B`` and so on, always the same for the same raters.

    They are not in the order of the names or of the rows, from which anyone could read who is who; a small team can
    still guess. Raters who are letters already keep them: all of A and the ones after it, or ``rater C`` and alike.
    """
    found = sorted(set(raters))
    plain = [_letter(number) for number in range(len(found))]
    if all(rater.startswith(_NAMED) for rater in found):
        return {rater: rater for rater in found}
    if set(found) == set(plain):
        return {rater: f"{_NAMED}{rater}" for rater in found}
    seed = "\n".join(found)
    mixed = sorted(found, key=lambda rater: sha256(f"{seed}\n\n{rater}".encode()).digest())
    return {rater: f"{_NAMED}{letter}" for rater, letter in zip(mixed, plain, strict=True)}


def lettered(observations: Observations, names: Mapping[str, str] | None = None) -> Observations:
    """Return the table with letters for raters, in the order of the letters; other names where some are given."""
    names = letters(observations.raters) if names is None else names
    told = np.array([names[str(rater)] for rater in observations.rater])
    order = np.argsort(np.char.add(np.char.str_len(told).astype(str), told), kind="stable")
    parts = {name: getattr(observations, name)[order] for name in ("subject", "trial", "method", "value")}
    return replace(observations, rater=told[order], **parts)


def _letter(number: int) -> str:
    """Return A to Z, then AA, AB and so on."""
    before, at = divmod(number, len(ascii_uppercase))
    return (_letter(before - 1) if before else "") + ascii_uppercase[at]
