"""Each check: which side of its limit is good, and a sentence that says what to do."""

import pytest

from measure.checks import MAX_MM_PER_PX, MAX_TILT_DEG, MIN_SHARE_SEEN, check_distance, check_sticker, check_tilt


@pytest.mark.parametrize(
    ("check", "good", "bad"),
    [
        (check_tilt, MAX_TILT_DEG, MAX_TILT_DEG + 0.1),
        (check_distance, MAX_MM_PER_PX, MAX_MM_PER_PX + 0.001),
    ],
)
def test_limit_itself_is_good(check, good, bad):
    assert check(good).ok
    assert not check(bad).ok
    assert check(good).value == good


def test_sentences_say_what_to_do():
    assert "hold it straight" in check_tilt(40.0).sentence
    assert "move closer" in check_distance(0.5).sentence
    assert "uncover it" in check_sticker(0.5, cut_off=False).sentence
    assert "outside the photo" in check_sticker(0.9, cut_off=True).sentence


def test_sticker_is_good_when_enough_of_it_can_be_read():
    assert check_sticker(MIN_SHARE_SEEN, cut_off=False).ok
    assert not check_sticker(MIN_SHARE_SEEN - 0.01, cut_off=False).ok
    assert not check_sticker(1.0, cut_off=True).ok
