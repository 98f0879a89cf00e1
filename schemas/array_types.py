"""Types of arrays, by what they hold; shapes are in the docstrings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Indices = NDArray[np.intp]
Booleans = NDArray[np.bool_]
Dates = NDArray[np.datetime64]


def read_only(array: Integers) -> Integers:
    """A view that cannot be written to: to numba a type of its own, so that of one kind loops are compiled once."""
    view = array.view()
    view.flags.writeable = False
    return view
