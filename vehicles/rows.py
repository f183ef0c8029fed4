"""Rows over the degrees of freedom of a truck; most of their entries are zero."""

from collections.abc import Sequence

import numpy as np

from crossaxle.arrays import Array


def stacked(rows: Sequence[Array | None], width: int) -> Array:
    """Rows below each other, short or missing ones filled up with zeros, (len(rows), width)."""
    matrix = np.zeros((len(rows), width))
    for i, row in enumerate(rows):
        if row is not None:
            matrix[i, : row.size] = row
    return matrix


def add_squares(matrix: Array, rows: Array, weights: Array) -> None:
    """Add the sum of weight row^T row to a matrix (n, n); rows (k, n), weights (k,)."""
    # Zeros included: picking out the columns in use takes longer than multiplying all of them.
    matrix += rows.T @ (weights[:, None] * rows)
