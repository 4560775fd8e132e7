"""The types of a physical quantity: one number, or an array of them.

>>> print(f"{np.radians(1.0) * ARCSEC_PER_RAD:.1f}")  # a degree
3600.0
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
#: A number or an array of numbers; functions of quantities broadcast and return the same kind.
Quantity = float | NDArray[Any]

#: Seconds of arc in one radian.
ARCSEC_PER_RAD = 648000.0 / np.pi
#: Seconds of arc in one turn.
ARCSEC_PER_TURN = 1296000.0
