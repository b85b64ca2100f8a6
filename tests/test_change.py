"""What is more than noise: by the budgets, or by the site's own study."""

import math

import numpy as np
import pytest

from measure.proportions import Share
from measure.trend.change import (
    FROM_BUDGETS,
    SiteChange,
    SiteChangeError,
    area_change,
    parse_site_change,
    quantity_change,
    share_change,
)
from measure.uncertainty import Quantity


def area(value, standard=0.10):
    return Quantity(value, "cm2", {"outline placement": standard / value})


@pytest.mark.parametrize(("standard_error", "printed"), [(6.88, 19.08), (7.17, 19.87)])
def test_the_smallest_change_is_1_96_times_the_root_of_two_times_the_standard_error(standard_error, printed):
    """Landa and others, Int Wound J 2016;13:619-24: granulation and slough, in percentage points."""
    found = share_change(Share(40.0, {"hand": standard_error}), Share(50.0, {"hand": standard_error}))
    assert found.smallest == pytest.approx(printed, abs=0.011)  # their standard errors are rounded themselves
    assert found.unit == "points"


def test_the_smallest_change_of_an_area():
    """Landa and others: a standard error of 0.10 cm2 (rounded) belongs to a change of 0.27 cm2."""
    assert area_change(area(3.0), area(2.8)).smallest == pytest.approx(0.27, abs=1.96 * math.sqrt(2) * 0.005)


def test_of_unchanged_wounds_one_in_twenty_seems_changed():
    random = np.random.default_rng(4)
    pairs = 10 + 0.5 * random.normal(size=(4000, 2))
    larger = [area_change(area(first, 0.5), area(last, 0.5)).larger for first, last in pairs]
    assert np.mean(larger) == pytest.approx(0.05, abs=0.012)  # 3.5 standard deviations of a share of 4000


def test_words():
    assert area_change(area(3.0), area(2.5)).words == "larger than the measurement noise"
    assert area_change(area(3.0), area(2.9)).words == "within the measurement noise"
    unknown = quantity_change(area(3.0), Quantity(2.0, "cm2", {"lens": math.nan}))
    assert unknown.larger is None
    assert unknown.words == "not comparable: the uncertainty is not known"


def test_a_study_of_the_site_goes_before_the_budgets():
    study = parse_site_change({"area_relative": 0.3, "source": " our ward, 2026 "})
    found = area_change(area(3.0), area(2.5), study)
    assert found.smallest == pytest.approx(0.3 * 2.75)
    assert (found.larger, found.source) == (False, "our ward, 2026")
    assert area_change(area(3.0), area(2.5)).source == FROM_BUDGETS
    assert parse_site_change(None) is None
    assert study == SiteChange(0.3, "our ward, 2026")


def test_a_study_of_tracings_leaves_what_the_photos_add_to_the_budgets():
    study = parse_site_change({"area_relative": 0.3, "source": "our ward, 2026", "covers": "tracing"})
    earlier = Quantity(3.0, "cm2", {"outline placement": 0.2, "lens": 0.03, "plane offset": 0.04})
    later = Quantity(2.0, "cm2", {"outline placement": 0.3, "lens": 0.0, "plane offset": 0.05})
    found = area_change(earlier, later, study)
    photos = 1.96 * math.hypot(3.0 * 0.05, 2.0 * 0.05)
    assert found.smallest == pytest.approx(math.hypot(0.3 * 2.5, photos))
    assert found.source == "our ward, 2026, with what photo and sticker add"
    unknown = Quantity(2.0, "cm2", {"outline placement": 0.3, "lens": math.nan})
    assert area_change(earlier, unknown, study).larger is None


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ({"area_relative": 0.2, "source": "x", "covers": "all"}, "say 'tracing' or 'everything'"),
        ({"area_relative": 0, "source": "x"}, "give a share"),
        ({"area_relative": "much", "source": "x"}, "give a share"),
        ({"area_relative": True, "source": "x"}, "give a share"),
        ({"area_relative": math.nan, "source": "x"}, "give a share"),
        ({"area_relative": 0.2, "source": " "}, "which study"),
        ({"area_relative": 0.2}, "which study"),
    ],
)
def test_a_setting_that_means_nothing_is_refused(setting, says):
    with pytest.raises(SiteChangeError, match=says):
        parse_site_change(setting)


def test_a_healed_wound_has_changed_by_more_than_the_noise_of_what_it_was():
    healed = Quantity(0.0, "cm2", {})
    assert area_change(area(3.0), healed).larger
    assert area_change(area(0.1, 0.1), healed).larger is False
