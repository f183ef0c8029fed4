"""The mean plane through the wheels' ground points, gravity resolved on it, and what is left: ground warp.

Frame: ISO 8855 axes (x forward, y left, z up). The plane z = a + b x + c y is fitted by least squares; with
M^2 = 1 + b^2 and N^2 = 1 + b^2 + c^2 = 1/cos^2(alpha), gravity along the plane's own axes (x' up the grade in
the vertical plane of travel, z' normal) is

    gx = -g b/M,    gy = -g c/(N M),    gz = -g/N.

Heights out of the plane, measured along its normal, are spanned by w - 3 orthonormal warp shapes.
Everything the ground and the slope do to the vehicle is the *input* u = (gx, gy, gz, warp coordinates).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from crossaxle.arrays import Array

GRAVITY = 9.80665
"""Standard gravity [m/s2]."""


@dataclass(frozen=True)
class GroundPlane:
    """Linear maps from the wheels' ground heights to slope and warp.

    Attributes
    ----------
    slope_x, slope_y : (w,)
        b = slope_x . z and c = slope_y . z [1/m].
    warp : (w, w - 3)
        Orthonormal shapes orthogonal to every plane; omega = warp^T z.
    """

    slope_x: Array
    slope_y: Array
    warp: Array


def ground_plane(wheel_station: Array, wheel_y: Array) -> GroundPlane:
    """Fit maps for wheels at ``wheel_station`` behind the front axle and ``wheel_y`` to the left [m], (w,).

    Raises
    ------
    ValueError
        With fewer than three wheels, or wheels in one line.
    """
    return _fitted(tuple(map(float, wheel_station)), tuple(map(float, wheel_y)))


@lru_cache(maxsize=256)
def _fitted(wheel_station: tuple[float, ...], wheel_y: tuple[float, ...]) -> GroundPlane:
    """`ground_plane`, worked out once for all candidates and gravities with these wheels; not to be changed."""
    x, y = -np.array(wheel_station), np.array(wheel_y)
    basis = np.array([np.ones_like(x), x, y]).T
    orthogonal, triangle = np.linalg.qr(basis, mode="complete")
    pivots = np.abs(np.diagonal(triangle))
    if len(x) < 3 or pivots.min() <= 1e-12 * pivots.max():
        raise ValueError(
            f"wheels at stations {list(wheel_station)} m and lateral positions {list(wheel_y)} m span no plane; "
            "at least three wheels that are not in one line are needed"
        )
    fit = np.linalg.solve(triangle[:3], orthogonal[:, :3].T)
    warp = orthogonal[:, 3:]
    signs = np.where(warp[0] < 0.0, -1.0, 1.0)
    return GroundPlane(fit[1].copy(), fit[2].copy(), np.ascontiguousarray(warp * signs))


def input_vector(
    plane: GroundPlane,
    heights: ArrayLike,
    grade: float = 0.0,
    side_slope: float = 0.0,
    linearised: bool = False,
) -> Array:
    """Input u, (w,), of one posture.

    Parameters
    ----------
    heights : (w,)
        Ground height under each wheel [m].
    grade, side_slope : float
        Tangents dz/dx and dz/dy of the large-scale slope, added to those of ``heights``.
    linearised : bool
        First order in the slopes; only for comparison with closed forms of linear vehicles.
    """
    z = np.asarray(heights, dtype=float)
    b = float(plane.slope_x @ z) + grade
    c = float(plane.slope_y @ z) + side_slope
    if linearised:
        return np.concatenate([[-GRAVITY * b, -GRAVITY * c, -GRAVITY], plane.warp.T @ z])
    m = np.sqrt(1.0 + b * b)
    n = np.sqrt(1.0 + b * b + c * c)
    gravity = np.array([-GRAVITY * b / m, -GRAVITY * c / (n * m), -GRAVITY / n])
    return np.concatenate([gravity, plane.warp.T @ z / n])


def level_input(n_wheels: int) -> Array:
    """Input u, (w,), on level, plane ground."""
    u = np.zeros(n_wheels)
    u[2] = -GRAVITY
    return u
