"""What a person answered of one visit's findings, wherever the page keeps it.

The session keeps it while another page is open: each control is drawn with ``persist_state="session"``.
"""

from dataclasses import dataclass
from typing import Any

import streamlit as st

_PREFIX = "finding-"


@dataclass(frozen=True)
class Answers:
    """The answers of one visit, by the name of what was asked; None where nobody answered.

    Attributes
    ----------
    visit : str
        What tells this visit's answers from those of others.
    """

    visit: str

    def at(self, name: str) -> str:
        """Return the key of the control that asks."""
        return f"{self._start}{name}"

    @property
    def _start(self) -> str:
        return f"{_PREFIX}{self.visit}:"

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401 - whatever a control returns
        """Return an answer."""
        return st.session_state.get(self.at(name))

    def put(self, name: str, value: object) -> None:
        """Answer in a person's place; call it before the control is drawn."""
        st.session_state[self.at(name)] = value

    def forget(self, start: str = "") -> None:
        """Forget all answers whose names begin so."""
        for key in list(st.session_state):
            if str(key).startswith(self.at(start)):
                del st.session_state[key]

    def row(self, name: str, number: int) -> str:
        """Return the name under which one of several entries is asked; what is asked of it is added to that."""
        return f"{name}-{number}-"

    def rows(self, name: str) -> tuple[int, ...]:
        """Return the numbers of the entries of a list."""
        found: tuple[int, ...] = self[f"{name}-rows"] or ()
        return found

    def add_row(self, name: str) -> None:
        """Add an entry, with a number that no other entry had."""
        number = int(self[f"{name}-count"] or 0)
        self.put(f"{name}-count", number + 1)
        self.put(f"{name}-rows", (*self.rows(name), number))

    def drop_row(self, name: str, number: int) -> None:
        """Take an entry away with all its answers."""
        self.put(f"{name}-rows", tuple(row for row in self.rows(name) if row != number))
        self.forget(self.row(name, number))
