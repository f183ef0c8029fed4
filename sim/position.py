"""What one position of the tracks does to a vehicle, for postures outside the sampling.

The readable counterpart of the compiled kernel's input; frame and numbering are those of :mod:`crossaxle.sim.tracks`.
"""

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.ground_plane import input_vector
from crossaxle.sim.reduced import ReducedModel
from crossaxle.sim.tracks import WheelTracks, middle_place, places_behind


def heights_at(model: ReducedModel, tracks: WheelTracks, position: int) -> Array:
    """Ground height under each wheel at a position of the tracks, (w,) [m], the large-scale slope left out."""
    offset, share = places_behind(model.wheel_station, tracks)
    here = offset + position
    ahead = np.minimum(here + 1, tracks.heights.shape[1] - 1)
    lines = tracks.wheel_line
    return np.asarray((1.0 - share) * tracks.heights[lines, here] + share * tracks.heights[lines, ahead])


def slope_at(model: ReducedModel, tracks: WheelTracks, position: int) -> tuple[float, float]:
    """Large-scale slope at the middle of the vehicle: tangents dz/dx and dz/dy."""
    middle = middle_place(model.wheel_station, tracks) + position
    return float(tracks.grade[middle]), float(tracks.side_slope[middle])


def input_at(model: ReducedModel, tracks: WheelTracks, position: int) -> Array:
    """Input u, (w,), of a position."""
    return input_vector(model.plane, heights_at(model, tracks, position), *slope_at(model, tracks, position))
