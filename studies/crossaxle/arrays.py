"""Types of the arrays that all rooms pass on; shapes and units stand where an array is described."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Float32 = NDArray[np.float32]
Integers = NDArray[np.int64]
Booleans = NDArray[np.bool_]
