"""The one array type of the models, and the constants that several subjects share."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64] | float
"""A float64 array, or a number that broadcasts like one."""

Mask = NDArray[np.bool_] | bool
"""True or false, point by point or for all."""

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s2 (3rd CGPM, 1901)."""

STANDARD_ATMOSPHERE = 101_325.0
"""Standard atmosphere, Pa (10th CGPM, 1954)."""
