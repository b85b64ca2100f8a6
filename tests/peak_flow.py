"""Peak expiratory flow, l/min, that papers about agreement print: published data with published results.

Bland JM, Altman DG. Lancet 1986;i:307-310: 17 subjects, two meters, two readings each. Bland JM, Altman DG. BMJ
1996;313:744: 20 children, four readings each.
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

CHILDREN = np.array(
    [
        (190, 220, 200, 200),
        (220, 200, 240, 230),
        (260, 260, 240, 280),
        (210, 300, 280, 265),
        (270, 265, 280, 270),
        (280, 280, 270, 275),
        (260, 280, 280, 300),
        (275, 275, 275, 305),
        (280, 290, 300, 290),
        (320, 290, 300, 290),
        (300, 300, 310, 300),
        (270, 250, 330, 370),
        (320, 330, 330, 330),
        (335, 320, 335, 375),
        (350, 320, 340, 365),
        (360, 320, 350, 345),
        (330, 340, 380, 390),
        (335, 385, 360, 370),
        (400, 420, 425, 420),
        (430, 460, 480, 470),
    ],
    dtype=np.float64,
)
"""Children by readings."""
