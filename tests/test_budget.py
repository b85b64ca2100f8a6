"""What an uncertainty is made of: shares that add up, words for each, and nothing said where nothing is known."""

import math

import pytest

from measure.budget import COMPONENTS, REST, Part, lead, mostly, parts
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.uncertainty import Quantity


def _budget(**components):
    return Quantity(10.0, "cm2", {name.replace("_", " "): value for name, value in components.items()})


def test_shares_are_of_the_variance():
    """3-4-5 triangle: 9 and 16 of 25."""
    found = parts(_budget(print_scale=0.03, outline_placement=0.04))
    assert [part.name for part in found] == ["outline placement", "print scale"]
    assert [part.share for part in found] == pytest.approx([0.64, 0.36])
    assert [part.percent for part in found] == ["64 %", "36 %"]


def test_small_components_are_summed_at_the_end():
    """0.05**2 + 0.05**2 is 0.5 % of 1; each alone is under 1 %."""
    found = parts(_budget(lens=0.05, outline_placement=1.0, curvature=0.05))
    assert [part.name for part in found] == ["outline placement", REST]
    assert found[1].share == pytest.approx(0.005 / 1.005)
    assert found[1].percent == "under 1 %"
    assert math.fsum(part.share for part in found) == pytest.approx(1.0)


def test_the_rest_stands_last_even_where_it_is_larger():
    """Ten components of 0.99 % each, beside one of 1 % and one of 89.1 %."""
    small = {f"cause {number}": math.sqrt(0.0099) for number in range(10)}
    found = parts(Quantity(1.0, "cm", {"b": math.sqrt(0.01), "a": math.sqrt(0.891), **small}))
    assert [part.name for part in found] == ["a", "b", REST]
    assert found[-1].share == pytest.approx(0.099)


@pytest.mark.parametrize("components", [{}, {"a": 0.0}, {"a": 0.1, "b": math.nan}, {"a": math.inf}])
def test_nothing_is_said_where_nothing_is_known(components):
    quantity = Quantity(1.0, "cm", components)
    assert parts(quantity) == []
    assert lead(parts(quantity)) == ""
    assert mostly(quantity) == ""


def test_the_sentence_names_the_largest_in_plain_words():
    assert (
        lead(parts(_budget(print_scale=0.01, outline_placement=0.09)))
        == "Most of the uncertainty comes from how exactly the edge is drawn."
    )
    assert lead([Part("lens", 0.4), Part("a", 0.3), Part("b", 0.3)]).startswith("The largest part of the uncertainty")


def test_the_line_leaves_out_what_is_not_worth_a_word():
    """Shares 0.9216, 0.0484 and 0.03."""
    quantity = _budget(outline_placement=0.96, plane_offset=0.22, lens=math.sqrt(0.03))
    assert mostly(quantity) == "outline placement 92 %"


def test_a_name_that_nobody_has_put_into_words_speaks_for_itself():
    assert Part("gravity", 0.5).label == "gravity"
    assert Part("gravity", 0.5).remedy == ""


def test_every_component_has_a_label_of_its_own_and_a_remedy():
    assert len({text.label for text in COMPONENTS.values()}) == len(COMPONENTS)
    for label, remedy in COMPONENTS.values():
        assert len(label) <= 40  # two lines beside its share on a phone of 320 px
        assert remedy.endswith(".")


def test_every_component_that_is_measured_has_its_words(first_sample):
    photo = read_photo(first_sample.photo)
    for scale in (None, (100, 100, 600, 100, 50.0)):
        (wound, *_) = complete(prepare(photo, scale=scale)).wounds
        for quantity in (wound.area, wound.perimeter, wound.length, wound.width, wound.length_x_width, wound.ellipse):
            assert set(quantity.components) <= set(COMPONENTS)
