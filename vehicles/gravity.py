"""Masses, their weight on a slope, and gravity's geometric stiffness.

Gravity is resolved on the mean plane through the wheels' ground points into components along x, y, z; each
mass works along its own displacement in each of them. Sideways a mass moves as the top of a chain of links:
the axles roll about the ground up to the roll centre (height h_a), the frame from there to its mid-height
and on to the mounts, the carried part from the mounts (h_m) to the mass (z):

    dy = - sum_a N_a [h_a phi_axle,a + (z_f - h_a) phi_frame(s_a)]
         - sum_i N_i (h_m - z_f) phi_frame(s_i) - (z - h_m) phi_part

with N the shares of side force (`vehicles.layout.shares`). A link of length l turned by phi loses the height
l phi^2 / 2, which gives the geometric stiffness -m g_n l per link. Fore and aft the chain starts at the
spring eyes: the couple of the traction forces below them goes through the leaves into the hangers (wheels
braked or driven, each axle in proportion to its permitted load), and an axle does not sink when it turns.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vehicles.kinematics import Kinematics, roll_centre
from vehicles.layout import Layout, shares
from vehicles.tyres import tyre

Array = NDArray[np.float64]
STEEL_DENSITY = 7850.0  # kg/m3, EN 1991-1-1:2002 table A.4 gives 77.0 to 78.5 kN/m3
FRAME_LUMPS = 12


@dataclass(frozen=True)
class PointMass:
    """A mass [kg] with its carrier and its place: station, lateral position (left positive), height [m]."""

    name: str
    mass: float
    carried_by: str
    station: float
    y: float
    z: float


def point_masses(layout: Layout, frame_mass: float, load_state: str, bare: bool = False) -> list[PointMass]:
    """All masses of a load state: axles, the frame's own (in equal lumps along it), the mass list.

    ``bare`` leaves out what body and tanks carry.
    """
    file = layout.file
    masses = []
    for name, axle in file.axle.items():
        height = axle_height(layout, name)
        masses.append(PointMass(f"axle {name}", axle.mass, f"axle {name}", layout.station(axle.at), 0.0, height))
    front, rear = layout.references["frame front"], layout.references["frame rear"]
    for i in range(FRAME_LUMPS):
        station = front + (i + 0.5) / FRAME_LUMPS * (rear - front)
        masses.append(
            PointMass("frame", frame_mass / FRAME_LUMPS, "frame", station, 0.0, file.frame.height)
        )
    state = file.load_states.get(load_state)
    for name, item in file.mass.items():
        factor = 1.0
        if state is not None:
            factor = 0.0 if name in state.leave_out else state.fill.get(name, 1.0)
        if factor == 0.0 or (bare and item.carried_by not in ("frame", "cab")):
            continue
        masses.append(
            PointMass(name, factor * item.mass, item.carried_by, layout.station(item.at), item.y, item.z)
        )
    return masses


def axle_height(layout: Layout, axle: str) -> float:
    """Height of an axle's centre of mass: that of the wheel centre [m]."""
    return tyre(layout.file.axle[axle].tyre).radius


class GravityLoads:
    """Generalised forces and geometric stiffness of a set of masses."""

    def __init__(self, kinematics: Kinematics, masses: list[PointMass]) -> None:
        self._k = kinematics
        self._links: dict[tuple[str, str, float], float] = {}
        layout = kinematics.layout
        n = kinematics.n
        self.load = np.zeros((3, n))
        traction = np.array([axle.permitted_load for axle in layout.file.axle.values()])
        self._traction = traction / traction.sum()
        self._cache: dict[tuple[str, str, float], Array] = {}
        sideways: dict[tuple[str, str, float], float] = {}
        lengthways: dict[tuple[str, str, float], float] = {}
        for mass in masses:
            self.load[2] += mass.mass * self._height(mass)
            for link, length in self._side_chain(mass):
                sideways[link] = sideways.get(link, 0.0) - mass.mass * length
                self._links[link] = self._links.get(link, 0.0) - mass.mass * length
            for link, length, sinks in self._fore_aft_chain(mass):
                lengthways[link] = lengthways.get(link, 0.0) + mass.mass * length
                if sinks:
                    self._links[link] = self._links.get(link, 0.0) - mass.mass * length
        for link, weight in sideways.items():
            self.load[1] += weight * self._row(link)
        for link, weight in lengthways.items():
            self.load[0] += weight * self._row(link)
        rows = np.array([self._row(link) for link in self._links])
        weights = np.array(list(self._links.values()))
        self.geometric: Array = rows.T @ (weights[:, None] * rows)

    def _row(self, link: tuple[str, str, float]) -> Array:
        if link not in self._cache:
            how, part, station = link
            k = self._k
            if how == "roll":
                row = k.roll(part, station)
            elif how == "guide":
                row = k.guide_roll(part, station)
            elif how == "spring":
                row = spring_pitch(k, part)
            else:
                row = k.pitch(part, station)
            self._cache[link] = row
        return self._cache[link]

    def _height(self, mass: PointMass) -> Array:
        return self._k.height(mass.carried_by, mass.station, mass.y)

    def _side_chain(self, mass: PointMass) -> list[tuple[tuple[str, str, float], float]]:
        k, layout = self._k, self._k.layout
        if mass.carried_by.startswith("axle "):
            return [(("roll", mass.carried_by, 0.0), mass.z)]
        z_frame = layout.file.frame.height
        chain = []
        for share, station, axle in zip(
            shares(k.axle_stations, mass.station), k.axle_stations, layout.file.axle, strict=True
        ):
            centre = roll_centre(layout, axle)
            chain.append((("roll", f"axle {axle}", 0.0), share * centre))
            chain.append((("roll", "frame", float(station)), share * (z_frame - centre)))
        if mass.carried_by == "frame":
            chain.append((("roll", "frame", mass.station), mass.z - z_frame))
            return chain
        height, side, _ = k.carried_at(mass.carried_by)
        for share, station in zip(shares(side, mass.station), side, strict=True):
            chain.append((("guide", mass.carried_by, float(station)), share * (height - z_frame)))
        chain.append((("roll", mass.carried_by, mass.station), mass.z - height))
        return chain

    def _fore_aft_chain(self, mass: PointMass) -> list[tuple[tuple[str, str, float], float, bool]]:
        k, layout = self._k, self._k.layout
        if mass.carried_by.startswith("axle "):
            return [(("spring", mass.carried_by.removeprefix("axle "), 0.0), mass.z, False)]
        z_frame = layout.file.frame.height
        chain: list[tuple[tuple[str, str, float], float, bool]] = []
        for share, station, axle in zip(self._traction, k.axle_stations, layout.file.axle, strict=True):
            eye = roll_centre(layout, axle)
            chain.append((("spring", axle, 0.0), share * eye, False))
            chain.append((("pitch", "frame", float(station)), share * (z_frame - eye), True))
        if mass.carried_by == "frame":
            chain.append((("pitch", "frame", mass.station), mass.z - z_frame, True))
            return chain
        height, _, fore_aft = k.carried_at(mass.carried_by)
        for station in fore_aft:
            chain.append((("pitch", "frame", float(station)), (height - z_frame) / len(fore_aft), True))
        chain.append((("pitch", mass.carried_by, mass.station), mass.z - height, True))
        return chain


def spring_pitch(kinematics: Kinematics, axle: str) -> Array:
    """Rotation about y of an axle's leaf springs: rise from front to rear hangers over their distance.

    A bogie's springs turn with the frame at the trunnion.
    """
    layout = kinematics.layout
    entry = layout.file.axle[axle]
    if entry.bogie is not None:
        return kinematics.frame_pitch(layout.station(layout.file.bogie[entry.bogie].trunnion))
    at, half = layout.station(entry.at), 0.5 * entry.spring_length
    rise = kinematics.frame_heave(at + half) - kinematics.frame_heave(at - half)
    return np.asarray(rise / entry.spring_length)
