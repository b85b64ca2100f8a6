"""The sections of an analysis of categories: equal answers, kappas, and Krippendorff's alpha."""

from collections.abc import Iterator
from functools import partial
from itertools import combinations

from measure.agreement.alpha import Level, alpha
from measure.agreement.errors import AgreementError
from measure.agreement.kappa import Weights, cohen, fleiss
from measure.agreement.number_sections import MOST_RATERS
from measure.agreement.observations import Observations
from measure.agreement.ratings import By, Order
from measure.agreement.section import Gathering, Section
from measure.agreement.statistic import Statistic

_ONE_THING = (
    "Each subject of each rater counts as one thing here, as if each had been another subject, so that intervals are "
    "somewhat narrow."
)

_LEFT_OUT = {
    "rater": "Subjects that not all rated are left out: {count}.",
    "trial": "What a rater did not rate in all trials is left out: {count}.",
}


def category_sections(observations: Observations, *, order: Order | None) -> Iterator[Section]:
    """Yield what the categories of one method tell.

    Parameters
    ----------
    observations : Observations
        Of one method.
    order : sequence, optional
        All categories from least to most, where they have an order.
    """
    yield _together(observations, order, by="rater")
    if observations.repeated:
        yield _together(observations, order, by="trial")
    if 1 < len(observations.raters) <= MOST_RATERS:
        for one, other in combinations(observations.raters, 2):
            yield kappa_section(observations, one, other, order, by="rater")


def _together(observations: Observations, order: Order | None, *, by: By) -> Section:
    again = by == "trial"
    gathered = Gathering(
        "categories_again" if again else "categories",
        "The same rater again: agreement on categories" if again else "Agreement of raters on categories",
    )
    try:
        found = fleiss(observations, by=by, order=order)
    except AgreementError as error:
        gathered.say(str(error))
    else:
        label = f"Share of equal answers, of pairs of {'trials' if again else 'raters'}"
        gathered.add("equal_answers", label, found.observed, share=True)
        gathered.add("fleiss_kappa", "Fleiss' kappa", found.kappa)
        gathered.say(_LEFT_OUT[by].format(count=found.left_out) if found.left_out else "")
    if again:
        gathered.say(_ONE_THING)
    elif observations.repeated:
        gathered.say("Of each rater the first trial counts here.")
    levels = _levels(observations, ordered=order is not None or observations.numeric)
    for level in levels[:2][-1:] if again else levels:
        gathered.find(
            f"alpha_{level}",
            f"Krippendorff's alpha, {level}",
            partial(_alpha, observations, level, order, by),
        )
    return gathered.section()


def _levels(observations: Observations, *, ordered: bool) -> tuple[Level, ...]:
    if observations.numeric:
        return "nominal", "ordinal", "interval", "ratio"
    return ("nominal", "ordinal") if ordered else ("nominal",)


def _alpha(observations: Observations, level: Level, order: Order | None, by: By) -> Statistic:
    return alpha(observations, level, by=by, order=order).alpha


def kappa_section(observations: Observations, one: str, other: str, order: Order | None, *, by: By) -> Section:
    """Return Cohen's kappas of two raters, or of two methods in the hands of the same raters."""
    gathered = Gathering("kappa", "Cohen's kappa")
    ways: tuple[tuple[str, str, Weights], ...] = (
        ("kappa", "Cohen's kappa", "none"),
        ("kappa_linear", "Cohen's kappa, linear weights", "linear"),
        ("kappa_quadratic", "Cohen's kappa, quadratic weights", "quadratic"),
    )
    for key, label, weights in ways if order is not None or observations.numeric else ways[:1]:
        try:
            found = cohen(observations, one, other, by=by, weights=weights, order=order)
        except AgreementError as error:
            gathered.say(str(error))
            break
        if weights == "none":
            gathered.add("equal_answers", "Share of equal answers", found.observed, share=True)
            gathered.say(
                f"Things that one of both said nothing of are left out: {found.left_out}." * bool(found.left_out)
            )
        gathered.add(key, label, found.kappa)
    if by == "method" and len(observations.raters) > 1:
        gathered.say(_ONE_THING)
    return gathered.section(about_people=by == "rater").of(f"{one} and {other}")
