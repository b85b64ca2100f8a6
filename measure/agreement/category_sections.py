"""The sections of an analysis of categories: equal answers, kappas, and Krippendorff's alpha."""

from collections.abc import Iterator
from functools import partial
from itertools import combinations

from measure.agreement.alpha import Level, alpha
from measure.agreement.errors import AgreementError
from measure.agreement.kappa import Weights, cohen, fleiss
from measure.agreement.number_sections import MOST_RATERS
from measure.agreement.observations import Observations
from measure.agreement.ratings import Order
from measure.agreement.section import Gathering, Section
from measure.agreement.statistic import Statistic


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
    for level in _levels(observations, ordered=ordered):
        gathered.find(
            f"alpha_{level}",
            f"Krippendorff's alpha, {level}",
            partial(_alpha, observations, level, order),
        )
    return gathered.section()


def _levels(observations: Observations, *, ordered: bool) -> tuple[Level, ...]:
    if observations.numeric:
        return "nominal", "ordinal", "interval", "ratio"
    return ("nominal", "ordinal") if ordered else ("nominal",)


def _alpha(observations: Observations, level: Level, order: Order | None) -> Statistic:
    return alpha(observations, level, order=order).alpha


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
