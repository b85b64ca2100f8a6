"""The matrix of a camera's primaries: against made-up cameras."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from calibration.primaries import fit_primaries, matrix_of
from calibration.prints import printed

NAMES = ("dark skin", "light skin", "moderate red", "orange yellow", "green", "purplish blue")
SHOWN = np.array([printed(name) for name in NAMES])

shares = st.lists(st.floats(-0.1, 0.1), min_size=6, max_size=6)


def _camera(values):
    """Return a matrix whose rows sum to 1, from its six other elements."""
    matrix = np.zeros((3, 3))
    matrix[~np.eye(3, dtype=bool)] = values
    return matrix + np.diag(1 - matrix.sum(axis=1))


@given(shares)
def test_a_camera_is_undone_nearly_and_neutrals_stay_neutral(values):
    seen = SHOWN @ np.linalg.inv(_camera(values)).T
    found = fit_primaries(seen, SHOWN).matrix
    np.testing.assert_allclose(found @ np.ones(3), 1)
    before, after = np.abs(seen - SHOWN).max(), np.abs(seen @ found.T - SHOWN).max()
    assert after <= 0.35 * before + 1e-9  # the ridge keeps some of it


def test_what_is_no_patch_is_left_out():
    seen = SHOWN.copy()
    seen[4] = (0.9, 0.9, 0.85)  # gauze over the green
    found = fit_primaries(seen, SHOWN)
    assert list(found.weights > 0) == [True, True, True, True, False, True]
    np.testing.assert_allclose(found.matrix, np.eye(3), atol=1e-6)


def test_without_patches_the_matrix_is_that_of_srgb():
    np.testing.assert_array_equal(matrix_of(SHOWN[:0], SHOWN[:0], np.empty(0)), np.eye(3))
