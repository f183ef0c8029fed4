"""What one position of the tracks does to a vehicle, for postures outside the sampling.

The readable counterpart of the compiled kernel's input; frame and numbering are those of :mod:`sim.sample`.
"""

import numpy as np

from sim.ground_plane import input_vector
from sim.reduced import ReducedModel
from sim.sample import WHOLE, Tracks
from sim.structure import Array


def heights_at(model: ReducedModel, tracks: Tracks, position: int) -> Array:
    """Ground height under each wheel at a position of the tracks, (w,) [m], the large-scale slope left out."""
    behind = model.wheel_station / tracks.spacing
    whole = np.round(behind)
    index = tracks.lead + position - np.where(np.abs(behind - whole) < WHOLE, whole, behind)
    here = np.floor(index).astype(np.int64)
    share = index - here
    ahead = np.minimum(here + 1, tracks.heights.shape[1] - 1)
    lines = tracks.wheel_line
    return np.asarray((1.0 - share) * tracks.heights[lines, here] + share * tracks.heights[lines, ahead])


def slope_at(model: ReducedModel, tracks: Tracks, position: int) -> tuple[float, float]:
    """Large-scale slope at the middle of the vehicle: tangents dz/dx and dz/dy."""
    middle = round(tracks.lead - float(model.wheel_station.mean()) / tracks.spacing) + position
    return float(tracks.grade[middle]), float(tracks.side_slope[middle])


def input_at(model: ReducedModel, tracks: Tracks, position: int) -> Array:
    """Input u, (w,), of a position."""
    return input_vector(model.plane, heights_at(model, tracks, position), *slope_at(model, tracks, position))
