"""Rows over the degrees of freedom of a truck; most of their entries are zero."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def stacked(rows: Sequence[Array | None], width: int) -> Array:
    """Rows below each other, short or missing ones filled up with zeros, (len(rows), width)."""
    matrix = np.zeros((len(rows), width))
    for own, row in zip(matrix, rows, strict=True):
        if row is not None:
            own[: row.size] = row
    return matrix


def add_squares(matrix: Array, rows: Array, weights: Array) -> None:
    """Add the sum of weight row^T row to a matrix (n, n); rows (k, n), weights (k,)."""
    used = np.flatnonzero(rows.any(axis=0))
    part = rows[:, used]
    matrix[np.ix_(used, used)] += part.T @ (weights[:, None] * part)
