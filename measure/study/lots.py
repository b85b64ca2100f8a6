"""Lots for whatever must be random and come out the same again: on every machine, in every version of every library."""

import hashlib


def lot(*words: object) -> str:
    """Return a lot that nobody can foresee without its words: the SHA-256 of them (FIPS 180-4)."""
    return hashlib.sha256("\x1f".join(map(str, words)).encode()).hexdigest()
