"""Everything that a nurse found at one visit, and the form in which the record keeps it: one JSON value a name."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from measure.findings.closures import Closures
from measure.findings.culture import Culture
from measure.findings.drains import Drain
from measure.findings.dressing import Dressing
from measure.findings.edges import EDGES
from measure.findings.exudate import ODOURS, Exudate
from measure.findings.foot import Foot
from measure.findings.form import FindingError, all_chosen, chosen, made, plain_json, several
from measure.findings.irrigation import Irrigation
from measure.findings.pain import rating
from measure.findings.ruler import ruler_length_cm, ruler_width_cm
from measure.findings.signs import answered
from measure.findings.sizes import Tunnel, Undermining, depth_cm
from measure.findings.skin import surrounding


@dataclass(frozen=True)
class Findings:
    """What was found; None where nobody said. An empty tuple says that somebody looked and found none.

    Attributes
    ----------
    depth_cm : float, optional
        Greatest depth, in cm.
    undermining : tuple of Undermining, optional
    tunnels : tuple of Tunnel, optional
    exudate : Exudate, optional
    odour : str, optional
        One of `measure.findings.exudate.ODOURS`.
    edges : tuple of str, optional
        Of `measure.findings.edges.EDGES`.
    skin : tuple of str, optional
        Of `measure.findings.skin.SKIN`.
    pain : int, optional
        0 to 10.
    signs : mapping of str to bool
        Answers by the names of `measure.findings.signs.SIGNS`; only what was answered.
    closures : Closures, optional
    drains : tuple of Drain, optional
        Each with a label of its own.
    culture : Culture, optional
    irrigation : Irrigation, optional
    dressing : Dressing, optional
    foot : Foot, optional
    ruler_length_cm, ruler_width_cm : float, optional
        As a ruler at the bedside gave them, in cm.
    other : mapping of str to JSON values
        What the record holds under names that are not known here; kept as it is.

    Raises
    ------
    FindingError
        If a value can't be recorded.
    """

    depth_cm: float | None = None
    undermining: tuple[Undermining, ...] | None = None
    tunnels: tuple[Tunnel, ...] | None = None
    exudate: Exudate | None = None
    odour: str | None = None
    edges: tuple[str, ...] | None = None
    skin: tuple[str, ...] | None = None
    pain: int | None = None
    signs: Mapping[str, bool] = field(default_factory=dict)
    closures: Closures | None = None
    drains: tuple[Drain, ...] | None = None
    culture: Culture | None = None
    irrigation: Irrigation | None = None
    dressing: Dressing | None = None
    foot: Foot | None = None
    ruler_length_cm: float | None = None
    ruler_width_cm: float | None = None
    other: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        for name, read in _READERS.items():
            given = getattr(self, name)
            object.__setattr__(self, name, None if given is None else read(given))
        object.__setattr__(self, "signs", self.signs or MappingProxyType({}))
        unknown = {name: value for name, value in self.other.items() if name not in NAMES}
        object.__setattr__(self, "other", MappingProxyType(unknown))


def _each(what: str, of: type[Any]) -> Callable[[object], tuple[Any, ...]]:
    return lambda value: tuple(made(what, of, each) for each in several(value, what))


def _one(what: str, of: type[Any]) -> Callable[[object], Any]:
    return lambda value: made(what, of, value)


def _drains(value: object) -> tuple[Drain, ...]:
    drains: tuple[Drain, ...] = _each("A drain", Drain)(value)
    labels = [drain.label for drain in drains]
    twice = [label for label in labels if labels.count(label) > 1]
    if twice:
        raise FindingError(f"Two drains are labelled {twice[0]}: give each a label of its own.")
    return drains


_READERS: Mapping[str, Callable[[object], Any]] = MappingProxyType(
    {
        "depth_cm": depth_cm,
        "undermining": _each("Undermining", Undermining),
        "tunnels": _each("A tunnel", Tunnel),
        "exudate": _one("Exudate", Exudate),
        "odour": lambda value: chosen(value, "The odour", ODOURS),
        "edges": lambda value: all_chosen(value, "The edge", EDGES),
        "skin": surrounding,
        "pain": rating,
        "signs": answered,
        "closures": _one("Closures", Closures),
        "drains": _drains,
        "culture": _one("The culture", Culture),
        "irrigation": _one("The irrigation", Irrigation),
        "dressing": _one("The dressing", Dressing),
        "foot": _one("The foot", Foot),
        "ruler_length_cm": ruler_length_cm,
        "ruler_width_cm": ruler_width_cm,
    }
)

NAMES = tuple(_READERS)
"""The names that findings have in the record."""


def documents(findings: Findings) -> dict[str, Any]:
    """Give the form that the record keeps, by name: what was said alone; the reverse of `parse_findings`."""
    said = {name: plain_json(getattr(findings, name)) for name in NAMES}
    return {name: value for name, value in said.items() if value is not None and (name, value) != ("signs", {})} | {
        name: plain_json(value) for name, value in findings.other.items()
    }


def parse_findings(loaded: Mapping[str, Any]) -> Findings:
    """Read the findings of a visit from what the record keeps; null takes back what was said under a name.

    Raises
    ------
    FindingError
        If a value has another form, or can't be true.
    """
    known = {name: value for name, value in loaded.items() if name in NAMES and value is not None}
    return Findings(**known, other={name: value for name, value in loaded.items() if name not in NAMES})


def anything_said(findings: Findings) -> bool:
    """Whether there is anything to keep."""
    return bool(documents(findings))
