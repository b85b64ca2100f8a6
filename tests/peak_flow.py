"""Peak expiratory flow, l/min, by two meters: published data with published results.

Bland JM, Altman DG. Lancet 1986;i:307-310: 17 subjects, two readings by each meter.
"""

import numpy as np

LARGE = np.array(
    [
        (494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427),
        (490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421),
    ],
    dtype=np.float64,
)
"""Large meter, shape (2, 17): first and second reading."""

MINI = np.array(
    [
        (512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451),
        (525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443),
    ],
    dtype=np.float64,
)
"""Mini meter, alike."""
