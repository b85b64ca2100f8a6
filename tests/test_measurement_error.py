"""Standard errors of measurement and smallest detectable changes against published ones."""

import math

import numpy as np
import pytest
from agreement_tables import PEAK_FLOW, SHROUT_FLEISS, observations_of

from measure.agreement.components import components
from measure.agreement.correlation import correlations
from measure.agreement.errors import AgreementError
from measure.agreement.measurement_error import (
    FACTOR,
    Kind,
    relative_change,
    relative_sdc,
    smallest_change,
    smallest_detectable,
    standard_error,
)

RANDOM = np.random.default_rng(2)


def with_squares(patients, between, apart, left):
    """Return a table of two methods with these sums of squares of patients, methods, and what is left of both."""
    one, other = np.linalg.qr(np.column_stack([np.ones(patients), RANDOM.normal(size=(patients, 2))]))[0][:, 1:].T
    sides = np.array([-1.0, 1.0]) / math.sqrt(2)
    return (
        np.outer(one, np.ones(2)) * math.sqrt(between / 2)
        + sides * math.sqrt(apart / patients)
        + np.outer(other, sides) * math.sqrt(left)
    )


def test_the_judges():
    """Shrout and Fleiss 1979's table; from its mean squares, which pingouin 0.7.0 agrees with."""
    found = components(observations_of(SHROUT_FLEISS))
    assert round(standard_error(found).value, 6) == 2.502776
    assert round(standard_error(found, Kind.CONSISTENCY).value, 6) == 1.009675
    assert round(smallest_change(found).value, 6) == 6.937342


def test_a_published_table():
    """J Am Soc Nephrol, a table of 72 patients by 2 methods: SS 1396.83, 379.76, 116.48; components 9.02, 5.25, 1.64.

    Its smallest detectable difference, 1.64 to the root times 1.96 √2, is 3.55; its ICC .846.
    """
    found = components(observations_of(with_squares(72, 1396.83, 379.76, 116.48)))
    assert [round(row.sum_of_squares, 2) for row in found.mean_squares] == [1396.83, 379.76, 116.48]
    assert [round(row.value, 2) for row in found.mean_squares] == [19.67, 379.76, 1.64]
    assert (round(found.subject, 2), round(found.rater, 2), round(found.error, 2)) == (9.02, 5.25, 1.64)
    assert round(found.subject / (found.subject + found.error), 3) == 0.846
    # from the printed mean squares and components, which are rounded
    assert ((19.67 - 1.64) / 2, round((379.76 - 1.64) / 72, 4)) == (pytest.approx(9.015), 5.2517)
    assert round(9.02 / (9.02 + 1.64), 4) == 0.8462
    assert round(smallest_change(found, Kind.CONSISTENCY).value, 2) == 3.55
    assert round(smallest_detectable(math.sqrt(1.64)), 4) == 3.5497


def test_children():
    """Bland and Altman 1996: within-subject standard deviation 21.5 l/min; by their 2.77 59.44, by 1.96 √2 59.48."""
    found = components(observations_of(PEAK_FLOW[:, None, :]))
    error = standard_error(found, Kind.SAME_RATER).value
    assert (round(error, 3), round(error, 1)) == (21.460, 21.5)
    assert (round(1.96 * error, 2), round(2.77 * error, 2)) == (42.06, 59.44)
    assert round(smallest_change(found, Kind.SAME_RATER).value, 2) == 59.48


@pytest.mark.parametrize(
    ("error", "change", "recomputed"),
    [(0.10, 0.27, "0.277"), (6.88, 19.08, "19.07"), (7.17, 19.87, "19.87"), (0.35, 0.98, "0.970")],
    ids=["area, cm²", "granulation, points", "slough", "necrosis"],
)
def test_planimetry_of_photos(error, change, recomputed):
    """Landa DLC and others. Int Wound J 2016;13:619-624: the changes follow from their errors before rounding."""
    digits = len(recomputed.split(".")[1])
    assert f"{smallest_detectable(error):.{digits}f}" == recomputed
    assert smallest_detectable(error - 0.005) < change + 0.005
    assert smallest_detectable(error + 0.005) > change - 0.005


def test_a_balance_scale():
    """York, a balance scale after stroke: error 1.1, smallest real difference 3.2, from the error before rounding."""
    assert round(2.77 * 1.1, 2) == 3.05
    assert smallest_detectable(1.05) < 3.15 < smallest_detectable(1.15) < 3.25
    assert round(FACTOR, 4) == 2.7719


def test_the_error_is_what_the_correlation_leaves_of_the_spread():
    """SD times the root of 1 - ICC, each with its own (Beckerman H and others. Qual Life Res 2001;10:571-578)."""
    found, six = components(observations_of(SHROUT_FLEISS)), correlations(SHROUT_FLEISS)
    agreement = (found.subject + found.rater + found.error) * (1 - six.icc_a_1.value)
    consistency = (found.subject + found.error) * (1 - six.icc_c_1.value)
    assert standard_error(found).value == pytest.approx(math.sqrt(agreement))
    assert standard_error(found, Kind.CONSISTENCY).value == pytest.approx(math.sqrt(consistency))


def test_logarithms_become_a_part_of_the_mean():
    """Whatever two values differ by the smallest change of their logarithms differ by this part of their mean."""
    logs = smallest_detectable(0.08)
    larger, smaller = math.exp(logs), 1.0
    assert relative_sdc(0.08) == pytest.approx((larger - smaller) / ((larger + smaller) / 2))
    assert relative_sdc(0.001) == pytest.approx(FACTOR * 0.001, rel=1e-5)
    assert relative_sdc(50.0) == pytest.approx(2)


def drawn(subjects=40, raters=3, trials=2):
    size = np.exp(RANDOM.normal(2, 0.8, (subjects, 1, 1)))
    return size * np.exp(
        0.05 * RANDOM.normal(size=(1, raters, 1)) + 0.04 * RANDOM.normal(size=(subjects, raters, trials))
    )


def test_the_relative_change_is_that_of_any_two_raters_from_logarithms():
    found = components(observations_of(drawn(), "cm2").logged())
    change = relative_change(found)
    assert change.value == relative_sdc(standard_error(found, Kind.AGREEMENT).value)
    assert change.low < change.value < change.high < 2
    assert change.unit == ""
    assert "(agreement): the root of variance of rater + variance of interaction + variance of error" in change.method
    assert relative_change(found, Kind.SAME_RATER).value == pytest.approx(FACTOR * 0.04, rel=0.25)


def test_scale_of_the_values_does_not_matter_to_the_relative_change():
    table = drawn()
    one, other = (relative_change(components(observations_of(times * table).logged())) for times in (1.0, 37.0))
    assert (one.value, one.low, one.high) == pytest.approx((other.value, other.low, other.high))


def test_kinds_are_ordered_and_the_change_follows_the_error():
    found = components(observations_of(drawn(), "cm2"))
    errors = [standard_error(found, kind) for kind in (Kind.SAME_RATER, Kind.CONSISTENCY, Kind.AGREEMENT)]
    assert errors[0].value <= errors[1].value <= errors[2].value
    for kind in Kind:
        error, change = standard_error(found, kind), smallest_change(found, kind)
        assert (change.value, change.low, change.high) == pytest.approx(
            [FACTOR * each for each in (error.value, error.low, error.high)]
        )
        assert change.unit == error.unit == "cm2"
        assert change.method.startswith("smallest detectable change: 1.96 √2 times the standard error of measurement")


def test_what_can_not_be_found_is_said():
    once = components(observations_of(SHROUT_FLEISS))
    with pytest.raises(AgreementError, match="Nobody measured a subject twice"):
        smallest_change(once, Kind.SAME_RATER)
    alone = components(observations_of(PEAK_FLOW[:, None, :]))
    for kind in (Kind.AGREEMENT, Kind.CONSISTENCY):
        with pytest.raises(AgreementError, match="Too few subjects were measured by two raters"):
            standard_error(alone, kind)
    same = components(observations_of(np.repeat([[0.1], [0.3], [0.7]], 3, axis=1)))
    with pytest.raises(AgreementError, match="No two measurements of a subject differ"):
        relative_change(same)
