"""A table of an agreement study: what it refuses."""

import numpy as np
import pytest
from agreement_tables import observations_of

from measure.agreement.analysis import analyse
from measure.agreement.errors import AgreementError


@pytest.mark.parametrize("size", [1e-50, 1e50])
def test_far_units_are_analysed_without_a_warning(size):
    table = np.array([[[1.0, 1.1], [1.3, 1.2]], [[4.0, 4.4], [4.1, 4.2]], [[2.0, 2.1], [2.3, 2.5]]])
    found, plain = (analyse(observations_of(each)) for each in (table * size, table))
    of, before = (
        {(section.key, figure.key): figure.statistic.value for section in each.sections for figure in section.figures}
        for each in (found, plain)
    )
    assert of.keys() == before.keys()
    key = "measurement_error", "sdc_agreement"
    assert of[key] == pytest.approx(before[key] * size, rel=1e-9)


@pytest.mark.parametrize("value", [1e61, -1e300])
def test_values_that_cannot_be_squared_are_refused_with_a_sentence(value):
    with pytest.raises(AgreementError, match="choose another unit"):
        observations_of([[1.0, 2.0], [0.0, value]])
    with pytest.raises(AgreementError, match="choose another unit"):
        observations_of([[0.0, 1 / value], [0.0, 0.0]])


def test_ratios_beyond_all_floats_end_at_the_largest():
    table = observations_of([[1e-50, 1e50], [1e50, 1e-50]])
    sections = {section.key: section for section in analyse(table, relative=True).sections}
    for key in ("from_mean", "bias", "limits of rater 001 less rater 002"):
        assert 1e300 < max(figure.statistic.high for figure in sections[key].figures) < np.inf
