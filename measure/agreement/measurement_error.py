"""How far a measurement may be off, and how large a change must be before it is more than that."""

import math
from dataclasses import replace
from enum import StrEnum

from measure.agreement.components import ERROR, INTERACTION, RATER, Components
from measure.agreement.errors import AgreementError
from measure.agreement.statistic import Statistic

FACTOR = 1.96 * math.sqrt(2)
"""Of two measurements, each with its error, 95 in 100 differ by less than this times the standard error of one."""

SOURCE = "de Vet HCW, Terwee CB, Knol DL, Bouter LM. J Clin Epidemiol 2006;59:1033-1039"

RELATIVE_SOURCE = (
    "Bland JM, Altman DG. BMJ 1996;313:106 (logarithms); Euser AM, Dekker FW, le Cessie S. J Clin Epidemiol "
    "2008;61:978-982 (part of the mean)"
)


class Kind(StrEnum):
    """Who measures the two times that are compared; each has a standard error of its own."""

    AGREEMENT = "agreement"
    """Any two raters: how far apart they are on the whole counts."""

    CONSISTENCY = "consistency"
    """Two raters whose difference on the whole is known and taken off."""

    SAME_RATER = "same rater"
    """The same rater both times."""


PARTS = {
    Kind.AGREEMENT: (RATER, INTERACTION, ERROR),
    Kind.CONSISTENCY: (INTERACTION, ERROR),
    Kind.SAME_RATER: (ERROR,),
}
"""Which variance components the squared standard error of measurement is the sum of."""


def standard_error(components: Components, kind: Kind = Kind.AGREEMENT) -> Statistic:
    """Return the standard error of measurement (SEM), in the unit of the values.

    Raises
    ------
    AgreementError
        If no subjects tie raters together (agreement, consistency), no rater measured a subject twice (same rater), or
        nothing that was measured again differs.
    """
    if kind is Kind.SAME_RATER and not components.repeated:
        raise AgreementError(
            "Nobody measured a subject twice, so the error of the same rater is not known; let raters measure again."
        )
    if kind is not Kind.SAME_RATER and components.rater is None:
        raise AgreementError(
            "Too few subjects were measured by two raters to tell how far apart raters are; let two raters measure the "
            "same subjects."
        )
    found = components.spread(*PARTS[kind])
    if found.value == 0:
        raise AgreementError(
            "No two measurements of a subject differ, so the error is too small to see at the digits that were noted."
        )
    method = f"standard error of measurement ({kind}): the root of {_sum(components, kind)}; {found.method}"
    return replace(found, method=method, source=f"{SOURCE}; {found.source}")


def _sum(components: Components, kind: Kind) -> str:
    there = [part for part in PARTS[kind] if getattr(components, part) is not None]
    return " + ".join(f"variance of {part}" for part in there)


def smallest_change(components: Components, kind: Kind = Kind.AGREEMENT) -> Statistic:
    """Return the smallest detectable change (SDC): what two measurements of the same subject seldom differ by.

    Raises
    ------
    AgreementError
        As `standard_error`.
    """
    error = standard_error(components, kind)
    value, low, high = (smallest_detectable(each) for each in (error.value, error.low, error.high))
    method = f"smallest detectable change: 1.96 √2 times the {error.method}"
    return replace(error, value=value, low=low, high=high, method=method)


def relative_change(logged: Components, kind: Kind = Kind.AGREEMENT) -> Statistic:
    """Return the smallest detectable change as a part of the mean of the two values, where errors grow with the size.

    Parameters
    ----------
    logged : Components
        Of the natural logarithms of the values (`Observations.logged`).
    kind : Kind

    Raises
    ------
    AgreementError
        As `standard_error`.
    """
    error = standard_error(logged, kind)
    value, low, high = (relative_sdc(each) for each in (error.value, error.low, error.high))
    method = (
        "smallest detectable change as a part of the mean of the two values: 2 tanh(1.96 √2 SEM / 2) of the natural "
        f"logarithms, with their {error.method}"
    )
    return Statistic(value, low, high, "", method, f"{RELATIVE_SOURCE}; {error.source}")


def smallest_detectable(standard_error: float) -> float:
    """Return the smallest detectable change for a standard error of measurement, in its unit."""
    return FACTOR * standard_error


def relative_sdc(sigma_ln: float) -> float:
    """Return the smallest detectable change, as a part of the mean of the two values, for an error of logarithms.

    Two values whose logarithms differ by d differ by 2 tanh(d / 2) of their mean; never by more than twice it.
    """
    return 2 * math.tanh(smallest_detectable(sigma_ln) / 2)
