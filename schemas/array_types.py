"""Types of arrays, by what they hold; shapes are in the docstrings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Indices = NDArray[np.intp]
Booleans = NDArray[np.bool_]
Dates = NDArray[np.datetime64]
