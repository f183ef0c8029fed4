"""Masses, their weight on a slope, and gravity's geometric stiffness.

Gravity is resolved on the mean plane through the wheels' ground points into components along x, y, z; each
mass works along its own displacement in each of them. Sideways a mass moves as the top of a chain of links:
the axles roll about the ground up to the roll centre (height h_a), the frame from there to its mid-height
and on to the mounts, the carried part from the mounts (h_m) to the mass (z):

    dy = - sum_a N_a [h_a phi_axle,a + (z_f - h_a) phi_frame(s_a)]
         - sum_i N_i (h_m - z_f) phi_frame(s_i) - (z - h_m) phi_part

with N the shares of side force (`crossaxle.vehicles.layout.shares`). A link of length l turned by phi loses the height
l phi^2 / 2, which gives the geometric stiffness -m g_n l per link. Fore and aft the chain starts at the
spring eyes: the couple of the traction forces below them goes through the leaves into the hangers (wheels
braked or driven, each axle in proportion to its permitted load), and an axle does not sink when it turns.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.kinematics import Kinematics, roll_centre
from crossaxle.vehicles.layout import Layout, shares
from crossaxle.vehicles.tyres import tyre

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
        masses.append(
            PointMass(f"axle {name}", axle.mass, f"axle {name}", layout.station(axle.at), 0.0, height)
        )
    front, rear = layout.references["frame front"], layout.references["frame rear"]
    for i in range(FRAME_LUMPS):
        station = front + (i + 0.5) / FRAME_LUMPS * (rear - front)
        masses.append(PointMass("frame", frame_mass / FRAME_LUMPS, "frame", station, 0.0, file.frame.height))
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


Link = tuple[str, str, float]
"""What turns: kind of row ("roll", "guide", "pitch" or "leaf"), part and station."""

_NOTHING = np.zeros(3)
_LINK_KINDS = {
    "roll": np.array([0.0, 1.0, 1.0]),
    "guide": np.array([0.0, 1.0, 1.0]),
    "pitch": np.array([1.0, 0.0, 1.0]),
    "leaf": np.array([1.0, 0.0, 0.0]),
}
"""Which of gravity's effects a link has part in: the forces along x, those along y, what sinks."""


class GravityLoads:
    """Generalised forces and geometric stiffness of a set of masses.

    Shares are affine in the station, so masses that hang on the same supports act there as one at their centre,
    and the loads of two sets of masses add.

    Parameters
    ----------
    kinematics : Kinematics
    masses : sequence of PointMass
    others : GravityLoads, optional
        Of further masses, on the first of the degrees of freedom.

    Attributes
    ----------
    load : (3, n)
        Generalised force per unit of gravity along x, y, z.
    geometric : (n, n)
        Geometric stiffness per unit of normal gravity.
    """

    def __init__(
        self, kinematics: Kinematics, masses: Sequence[PointMass], others: "GravityLoads | None" = None
    ) -> None:
        self._k = kinematics
        # Mass times length of each link: under the forces along x, under those along y, and in what sinks.
        self._links: dict[Link, Array] = {}
        for mass in masses:
            if mass.carried_by.startswith("axle "):
                self._add("roll", mass.carried_by, 0.0, mass.mass * mass.z)
                self._add("leaf", mass.carried_by, 0.0, mass.mass * mass.z)
        sprung = [mass for mass in masses if not mass.carried_by.startswith("axle ")]
        if sprung:
            self._add_axle_links(sprung)
        for part in dict.fromkeys(mass.carried_by for mass in sprung):
            self._add_part_links(part, [mass for mass in sprung if mass.carried_by == part])

        n = kinematics.n
        heights = [mass.mass * kinematics.height(mass.carried_by, mass.station, mass.y) for mass in masses]
        rows = np.array([self._row(link) for link in self._links]).reshape(-1, n)
        fore_aft, side, sinking = np.array(list(self._links.values())).reshape(-1, 3).T
        self.load = np.array([fore_aft @ rows, -side @ rows, np.sum(heights, axis=0) + np.zeros(n)])
        self.geometric = np.asarray(-rows.T @ (sinking[:, None] * rows))
        if others is not None:
            first = slice(len(others.geometric))
            self.load[:, first] += others.load
            self.geometric[first, first] += others.geometric

    def _add(self, how: str, part: str, station: float, weight: float) -> None:
        """Add a link: mass times its length, under the forces that turn it and under what sinks with it."""
        link = (how, part, station)
        self._links[link] = self._links.get(link, _NOTHING) + weight * _LINK_KINDS[how]

    def _add_axle_links(self, sprung: list[PointMass]) -> None:
        """From the ground over roll centres and spring eyes up to the rails' mid-height."""
        k, layout = self._k, self._k.layout
        permitted = np.array([axle.permitted_load for axle in layout.file.axle.values()])
        mass, centre = together(sprung)
        for side, traction, station, axle in zip(
            mass * shares(k.axle_stations, centre),
            mass * permitted / permitted.sum(),
            k.axle_stations.tolist(),
            layout.file.axle,
            strict=True,
        ):
            eye = roll_centre(layout, axle)
            above = layout.file.frame.height - eye
            self._add("roll", f"axle {axle}", 0.0, side * eye)
            self._add("roll", "frame", station, side * above)
            self._add("leaf", f"axle {axle}", 0.0, traction * eye)
            self._add("pitch", "frame", station, traction * above)

    def _add_part_links(self, part: str, masses: list[PointMass]) -> None:
        """From the rails' mid-height up to the masses of one part."""
        k = self._k
        z_frame = k.layout.file.frame.height
        if part == "frame":
            height = z_frame
        else:
            height, side, fore_aft = k.carried_at(part)
            mass, centre = together(masses)
            for share, station in zip(mass * shares(side, centre), side.tolist(), strict=True):
                self._add("guide", part, station, share * (height - z_frame))
            for station in fore_aft.tolist():
                self._add("pitch", "frame", station, mass / len(fore_aft) * (height - z_frame))
        for item in masses:
            # Only frame and twisting parts turn differently from place to place.
            station = k.centre(part) if part == "cab" else item.station
            self._add("roll", part, station, item.mass * (item.z - height))
            self._add("pitch", part, station if part == "frame" else 0.0, item.mass * (item.z - height))

    def _row(self, link: Link) -> Array:
        how, part, station = link
        if how == "leaf":
            return leaf_pitch(self._k, part.removeprefix("axle "))
        if how == "guide":
            return self._k.guide_roll(part, station)
        return self._k.roll(part, station) if how == "roll" else self._k.pitch(part, station)


def together(masses: Sequence[PointMass]) -> tuple[float, float]:
    """Total mass [kg] and station of its centre [m], 0 where there is no mass."""
    total = sum(mass.mass for mass in masses)
    return total, sum(mass.mass * mass.station for mass in masses) / total if total else 0.0


def leaf_pitch(kinematics: Kinematics, axle: str) -> Array:
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
