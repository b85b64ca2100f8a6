"""The edge of a wound and the skin round it, asked at the bedside."""

from functools import partial

from measure.findings.edges import EDGES
from measure.findings.skin import SKIN, surrounding
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import explain, some_of, tell_trouble

_EDGES, _SKIN = "edges", "skin"


def ask_edges(bedside: Bedside) -> None:
    """Ask how the edge looks."""
    some_of(bedside.answers, _EDGES, "How the edge looks: all that hold", EDGES)
    explain(EDGES)


def edges_said(answers: Answers) -> tuple[str, ...] | None:
    """Return the words for the edge."""
    return tuple(answers[_EDGES] or ()) or None


def put_edges(answers: Answers, edges: tuple[str, ...] | None) -> None:
    """Answer as given."""
    answers.put(_EDGES, list(edges or ()))


def ask_skin(bedside: Bedside) -> None:
    """Ask how the skin round the wound looks and feels."""
    some_of(bedside.answers, _SKIN, "How the skin around the wound looks and feels: all that hold", SKIN)
    tell_trouble(partial(skin_said, bedside.answers))
    explain(SKIN)


def skin_said(answers: Answers) -> tuple[str, ...] | None:
    """Return the words for the skin."""
    return surrounding(answers[_SKIN]) if answers[_SKIN] else None


def put_skin(answers: Answers, skin: tuple[str, ...] | None) -> None:
    """Answer as given."""
    answers.put(_SKIN, list(skin or ()))
