"""Exact derivatives of the residuals, against differences of the residuals themselves."""

import numpy as np
import pytest
from test_plane import FOCAL, HEIGHT, WIDTH, _camera, _sticker

from calibration.model import Matched, Unknowns, camera_prior
from calibration.slopes import slopes

THROUGH = (40.0, 30.0)
POSE = (0.3, -0.2, 0.4, -35.0, -28.0, 320.0, np.log(FOCAL))
PLACEMENT = (0.4, 15.0, -30.0, 0.02)
LENS = (0.03,)


def _differences(function, values, steps):
    """Differentiate by central differences, shape (rows, unknowns)."""
    moves = np.diag(steps)
    return np.column_stack([(function(values + move) - function(values - move)) / (2 * move.sum()) for move in moves])


def _points(count):
    """Return noisy points of so many stickers."""
    return Matched.of([_sticker(name, _camera(), 0.2) for name in ("corner", "tile", "strip")[:count]])


@pytest.mark.parametrize("others", [0, 1, 2])
@pytest.mark.parametrize("bend", [(), (1 / 40, 0.7), (-1 / 60, 2.0), (1e-7, -0.4), (0.0, 1.0)], ids=str)
def test_they_are_what_small_steps_of_the_unknowns_do(bend, others):
    kind = "limb" if bend else "pose"
    unknowns = Unknowns(kind, camera_prior(WIDTH, HEIGHT, FOCAL), others, THROUGH)
    values = np.array([*POSE, *PLACEMENT * others, *LENS, *bend])
    points = _points(1 + others)
    steps = np.array(
        [*[1e-6] * 3, *[1e-4] * 3, 1e-6, *(1e-6, 1e-4, 1e-4, 1e-6) * others, 1e-5, *(1e-8, 1e-6)[: len(bend)]]
    )
    expected = _differences(lambda moved: unknowns.residuals(moved, points), values, steps)
    size = np.maximum(1.0, np.abs(expected).max(axis=0))  # px: differences of less are lost in rounding
    assert slopes(unknowns, values, points) / size == pytest.approx(expected / size, abs=2e-6)


@pytest.mark.parametrize("kind", ["homography", "pose", "limb"])
@pytest.mark.parametrize("others", [0, 2])
def test_what_is_known_beforehand_changes_evenly(kind, others):
    unknowns = Unknowns(kind, camera_prior(WIDTH, HEIGHT, FOCAL), others, THROUGH)
    values = np.linspace(0.1, 0.9, unknowns.lens + (3 if kind == "limb" else 1))
    expected = _differences(unknowns.prior, values, np.full(len(values), 0.01))
    assert unknowns.prior_slopes() == pytest.approx(expected, rel=1e-9)
