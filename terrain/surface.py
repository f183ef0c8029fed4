"""Measured ground: tracks along a route across a gridded surface in a NetCDF file."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from crossaxle.arrays import Array
from crossaxle.terrain.survey import Survey, SurveyError, check_finite

if TYPE_CHECKING:
    import xarray as xr


def read_surface(
    path: Path,
    route: ArrayLike,
    lines_y: ArrayLike,
    spacing: float | None = None,
    variable: str | None = None,
) -> Survey:
    """Read tracks along a route across a gridded surface in a NetCDF file.

    Parameters
    ----------
    path : Path
        The file: a variable on two dimensions with coordinates `x` and `y` [m].
    route : (n_corners, 2)
        Corners x, y of the route on the surface [m].
    lines_y : (n_lines,)
        Lateral positions of the tracks, positive to the left of the route [m].
    spacing : float, optional
        Between points along the route [m]; default: the finer spacing of the grid.
    variable : str, optional
        Its name; needed if the file holds several.

    Raises
    ------
    SurveyError
        If the file holds no such surface, the route leaves it, or heights on the route are missing.
    """
    import xarray as xr

    try:
        with xr.open_dataset(path) as data:
            surface = _surface(path, data, variable).load()
    except (OSError, ValueError) as error:
        if isinstance(error, SurveyError):
            raise
        raise SurveyError(f"{path}: cannot be read: {error}") from None
    return _along_route(path, surface, np.asarray(route, float), np.asarray(lines_y, float), spacing)


def _surface(path: Path, data: "xr.Dataset", variable: str | None) -> "xr.DataArray":
    suitable = [str(name) for name in data.data_vars if set(data[name].dims) == {"x", "y"}]
    if variable is None and len(suitable) != 1:
        raise SurveyError(
            f"{path}: holds {len(suitable)} variables on x and y ({', '.join(suitable) or 'none'});"
            " name the one that is the height"
        )
    name = variable or suitable[0]
    if name not in suitable:
        raise SurveyError(f"{path}: no variable {name} on x and y; found: {', '.join(suitable) or 'none'}")
    surface = data[name].transpose("x", "y")
    for axis in ("x", "y"):
        if axis not in surface.coords or np.any(np.diff(surface[axis].values) <= 0):
            raise SurveyError(f"{path}: {axis} must be a coordinate that rises from point to point")
    return surface


def _along_route(
    path: Path, surface: "xr.DataArray", route: Array, lines_y: Array, spacing: float | None
) -> Survey:
    from scipy.interpolate import RegularGridInterpolator

    if route.ndim != 2 or route.shape[1:] != (2,) or len(route) < 2:
        raise SurveyError(f"{path}: the route needs at least two corners x, y")
    x, y = surface["x"].values.astype(float), surface["y"].values.astype(float)
    measured = float(min(np.median(np.diff(x)), np.median(np.diff(y))))
    step = spacing or measured
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(route, axis=0).T))])
    along = np.arange(int(run[-1] / step * (1 + 1e-9)) + 1, dtype=float) * step
    centre = np.array([np.interp(along, run, route[:, i]) for i in (0, 1)])
    # direction by central differences, so that the tracks turn smoothly at a corner
    tangent = np.gradient(centre, axis=1)
    tangent /= np.hypot(*tangent)
    left = np.array([-tangent[1], tangent[0]])
    points = centre[:, None, :] + lines_y[None, :, None] * left[:, None, :]
    outside = (points[0] < x[0]) | (points[0] > x[-1]) | (points[1] < y[0]) | (points[1] > y[-1])
    if np.any(outside):
        worst = points[:, outside][:, 0]
        raise SurveyError(
            f"{path}: the route with its tracks leaves the surface at x = {worst[0]:g}, y = {worst[1]:g} m;"
            f" it spans x from {x[0]:g} to {x[-1]:g} and y from {y[0]:g} to {y[-1]:g} m"
        )
    lookup = RegularGridInterpolator((x, y), np.asarray(surface.values, float))
    heights = np.asarray(lookup(np.moveaxis(points, 0, -1)), float)
    try:
        check_finite(heights, along, tuple(f"the track at {v:g} m" for v in lines_y))
    except SurveyError as error:
        raise SurveyError(f"{path}: {error}") from None
    return Survey(heights, lines_y, step, measured)
