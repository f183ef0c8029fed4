"""Where everything stands along the truck once the wheelbase is known."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.file import VehicleFile
from crossaxle.vehicles.mount_entries import MountBase, Support
from crossaxle.vehicles.position import Position


@dataclass(frozen=True)
class Layout:
    """A vehicle file with its references resolved to stations [m behind the front axle]."""

    file: VehicleFile
    references: Mapping[str, float]

    def station(self, position: Position) -> float:
        """Metres behind the front axle."""
        return position.station(self.references)

    @property
    def mount(self) -> MountBase:
        """The mount the file has chosen."""
        return self.file.mounts[self.file.mount]

    @property
    def mount_height(self) -> float:
        """Height of the plane in which side and fore-aft forces pass from body to frame [m]."""
        if self.mount.height is not None:
            return self.mount.height
        return self.file.frame.height + 0.5 * getattr(self.file.frame.section, "height", 0.0)

    def supports(self) -> dict[str, Support]:
        """Supports of the chosen mount by name: ``1``, ``2`` ... , ``pair``, ``pivot``, ``fixed`` ..."""
        return {support.name: support for support in self.mount.supports()}

    def mount_stations(self) -> dict[str, float]:
        """Stations of the chosen mount's supports by their names [m]."""
        return {name: self.station(support.at) for name, support in self.supports().items()}

    def bracket_stations(self, tank: str) -> Array:
        """Stations of a tank's brackets, front to rear, shape (count,) [m]."""
        entry = self.file.tank[tank]
        places = np.arange(entry.count) - 0.5 * (entry.count - 1)
        return np.asarray(self.station(entry.centre) + entry.spacing * places)


def lay_out(file: VehicleFile) -> Layout:
    """Resolve the file's references, in the order in which they may depend on each other.

    Raises
    ------
    ValueError
        If a position refers to one that is only known later, or lies in front of what it must be behind.
    """
    references = {"front axle": 0.0, "rear axle": file.wheelbase}
    for name, position in (
        ("frame front", file.frame.front),
        ("cab back", file.cab.back),
        ("body front", file.body.front),
        ("body rear", Position("body front", offset=file.body.length)),
        ("frame rear", file.frame.rear),
    ):
        try:
            references[name] = position.station(references)
        except ValueError as error:
            raise ValueError(f"{name}: {error}") from error
    return Layout(file, references)


def shares(stations: Array, station: float) -> Array:
    """Shares of a side force at ``station`` taken by supports, shape (k,).

    They keep force and yaw moment in balance; with more than two supports, of all such shares the
    ones with the smallest sum of squares. The same weights interpolate the supports' sideways
    displacement (reciprocity).
    """
    if len(stations) == 1:
        return np.ones(1)
    centre = float(stations.sum()) / len(stations)
    arms = stations - centre
    spread = float(arms @ arms)
    slope = (station - centre) / spread if spread else 0.0
    result: Array = 1 / len(stations) + arms * slope
    return result
