"""Raters as letters, for all who need not know who measured what."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from hashlib import sha256
from string import ascii_uppercase

import numpy as np

from measure.agreement.observations import Observations


def letters(raters: Iterable[str]) -> Mapping[str, str]:
    """Return for each rater ``rater A``, ``rater B`` and so on, always the same for the same raters.

    They are not in the order of the names or of the rows, from which anyone could read who is who; a small team can
    still guess. Raters who are letters already, A and the ones after it, keep them.
    """
    found = sorted(set(raters))
    plain = [_letter(number) for number in range(len(found))]
    bare = [rater.removeprefix("rater ") for rater in found]
    if sorted(bare) == sorted(plain):
        return {rater: f"rater {name}" for rater, name in zip(found, bare, strict=True)}
    seed = "\n".join(found)
    mixed = sorted(found, key=lambda rater: sha256(f"{seed}\n\n{rater}".encode()).digest())
    return {rater: f"rater {letter}" for rater, letter in zip(mixed, plain, strict=True)}


def lettered(observations: Observations) -> Observations:
    """Return the table with letters for raters, in the order of the letters."""
    names = letters(observations.raters)
    told = np.array([names[str(rater)] for rater in observations.rater])
    order = np.argsort(np.char.add(np.char.str_len(told).astype(str), told), kind="stable")
    parts = {name: getattr(observations, name)[order] for name in ("subject", "trial", "method", "value")}
    return replace(observations, rater=told[order], **parts)


def _letter(number: int) -> str:
    """Return A to Z, then AA, AB and so on."""
    before, at = divmod(number, len(ascii_uppercase))
    return (_letter(before - 1) if before else "") + ascii_uppercase[at]
