"""A proportion's uncertainty: in percentage points, of independent causes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.proportions import Share

points = st.floats(0, 50)


def test_causes_add_in_squares_and_k_is_two():
    share = Share(40.0, {"class doubt": 3.0, "colour": 4.0, "outline placement": 12.0})
    assert share.standard_uncertainty == pytest.approx(13.0)  # 3, 4, 12, 13
    assert share.expanded_uncertainty == pytest.approx(26.0)


def test_none_of_a_tissue_can_be_uncertain_too():
    assert Share(0.0, {"class doubt": 0.5}).expanded_uncertainty == pytest.approx(1.0)
    assert Share(0.0, {}).expanded_uncertainty == 0


@given(st.lists(points, min_size=1, max_size=4))
def test_no_cause_is_larger_than_the_whole(parts):
    share = Share(10.0, dict(enumerate(parts)))
    assert max(parts) - 1e-9 <= share.standard_uncertainty <= sum(parts) + 1e-9
