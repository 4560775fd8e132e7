"""The number types of the package: 64-bit whole numbers and floats, yes or no, and places of rows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
#: Places of rows in a table, as numpy returns them.
RowIndices = NDArray[np.intp]
