"""The sections of an analysis of categories: equal answers, kappas, and Krippendorff's alpha."""

from collections.abc import Iterator
from itertools import combinations
from typing import TypeAlias, get_args

from measure.agreement.alpha import Level, alpha
from measure.agreement.errors import AgreementError
from measure.agreement.kappa import Weights, cohen, fleiss
from measure.agreement.number_sections import MOST_RATERS
from measure.agreement.observations import Observations
from measure.agreement.ratings import Order
from measure.agreement.section import Gathering, Section

By: TypeAlias = str


def category_sections(observations: Observations, *, order: Order | None) -> Iterator[Section]:
    """Yield what the categories of one method tell.

    Parameters
    ----------
    observations : Observations
        Of one method.
    order : sequence, optional
        All categories from least to most, where they have an order.
    """
    ordered = order is not None or observations.numeric
    yield _together(observations, order, ordered=ordered)
    if 1 < len(observations.raters) <= MOST_RATERS:
        for one, other in combinations(observations.raters, 2):
            yield _of_two(observations, one, other, order, ordered=ordered)


def _together(observations: Observations, order: Order | None, *, ordered: bool) -> Section:
    gathered = Gathering("categories", "Agreement on categories")
    try:
        found = fleiss(observations, order=order)
    except AgreementError as error:
        gathered.say(str(error))
    else:
        gathered.add("equal_answers", "Share of equal answers, of pairs of raters", found.observed)
        gathered.add("fleiss_kappa", "Fleiss' kappa", found.kappa)
        gathered.say(f"Subjects that not all rated are left out: {found.left_out}." if found.left_out else "")
    levels: tuple[Level, ...] = get_args(Level) if observations.numeric else ("nominal", "ordinal")[: 1 + ordered]
    for level in levels:
        gathered.find(
            f"alpha_{level}",
            f"Krippendorff's alpha, {level}",
            lambda at=level: alpha(observations, at, order=order).alpha,
        )
    return gathered.section()


def _of_two(observations: Observations, one: str, other: str, order: Order | None, *, ordered: bool) -> Section:
    gathered = Gathering("kappa", "Cohen's kappa")
    ways: tuple[tuple[str, str, Weights], ...] = (
        ("kappa", "Cohen's kappa", "none"),
        ("kappa_linear", "Cohen's kappa, linear weights", "linear"),
        ("kappa_quadratic", "Cohen's kappa, quadratic weights", "quadratic"),
    )
    for key, label, weights in ways if ordered else ways[:1]:
        try:
            found = cohen(observations, one, other, weights=weights, order=order)
        except AgreementError as error:
            gathered.say(str(error))
            break
        if weights == "none":
            gathered.add("equal_answers", "Share of equal answers", found.observed)
        gathered.add(key, label, found.kappa)
    return gathered.section(about_people=True).of(f"{one} and {other}")
