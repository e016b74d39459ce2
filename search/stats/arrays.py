"""Name the numpy array kinds that the search modules hand to each other."""

from typing import Any

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.integer[Any]]
FloatArray = npt.NDArray[np.floating[Any]]
BoolArray = npt.NDArray[np.bool_]
