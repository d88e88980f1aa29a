"""The two kinds of array that tables of readings are made of."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["FloatArray", "IntArray"]

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
