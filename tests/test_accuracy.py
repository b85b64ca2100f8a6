"""The promise: area from the true outline on photos as a careful nurse takes them (tilt to 30 degrees).

Truth by construction, over random poses, skins, lights, blurs and JPEG 85; ``tests/benchmarks/accuracy.py`` prints the
same over many more. The promise is 1 % for corner and strip and 2.5 % for tile; what is held here is far tighter, so
that a step back is seen.
"""

import numpy as np
import pytest

from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.rendering import jpeg, render
from tests.benchmarks.scenes import bedside

PROMISED = {"corner": 0.01, "strip": 0.01, "tile": 0.025}
HELD = {"corner": 0.002, "strip": 0.004, "tile": 0.01}


@pytest.mark.parametrize("layout", PROMISED)
@pytest.mark.parametrize("number", [101, 102, 103, 104])
def test_area_of_the_true_outline(layout, number):
    rendering = render(bedside(layout, number, width=2400))
    prepared = prepare(read_photo(jpeg(rendering, quality=85), "photo"), propose=False)
    (wound,) = complete(prepared, [Outline(rendering.outline_px, rendering.holes_px)]).wounds
    error = wound.area.value / rendering.area_mm2 - 1
    assert abs(error) < HELD[layout] < PROMISED[layout]
    assert abs(error) < 2 * wound.area.relative_uncertainty
    assert wound.perimeter.value == pytest.approx(rendering.wound_mm.length, rel=HELD[layout])
    assert prepared.calibration.plane.tilt_deg == pytest.approx(rendering.tilt_deg, abs=0.5)
    assert np.isfinite(prepared.calibration.plane.residual_px)
