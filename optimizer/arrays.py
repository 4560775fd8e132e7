"""The number types of the package: arrays of 64-bit integers, of floats, of yes and no."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


Floats = NDArray[np.float64]


Mask = NDArray[np.bool_]
