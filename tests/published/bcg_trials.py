"""Thirteen trials printed elsewhere, for tests of random effects."""

import numpy as np

#: BCG trials, Colditz et al. 1994 as distributed in R package HSAUR: cases and group totals, vaccinated and not.
BCG = np.array(
    [
        (4, 123, 11, 139), (6, 306, 29, 303), (3, 231, 11, 220), (62, 13598, 248, 12867), (33, 5069, 47, 5808),
        (180, 1541, 372, 1451), (8, 2545, 10, 629), (505, 88391, 499, 88391), (29, 7499, 45, 7277),
        (17, 1716, 65, 1665), (186, 50634, 141, 27338), (5, 2498, 3, 2341), (27, 16913, 29, 17854),
    ],
    float,
)  # fmt: skip
