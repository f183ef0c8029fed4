"""The chassis: frame, axles and cab with their own masses, without what stands on them.

Candidates of a study mostly differ in what the chassis carries, so each chassis is worked out once and kept. It
is made from a `Layout` stripped of all that is carried, which is the key it is kept under: nothing
else can enter it, and it comes out the same whether made or found.
"""

import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from crossaxle.arrays import Array
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.frame import LadderFrame
from crossaxle.vehicles.frame_entry import frame_mass, ladder
from crossaxle.vehicles.gravity import GravityLoads, PointMass, point_masses
from crossaxle.vehicles.kinematics import Kinematics
from crossaxle.vehicles.layout import Layout
from crossaxle.vehicles.level import stand
from crossaxle.vehicles.outputs import add_frame_outputs
from crossaxle.vehicles.suspension import SIDES, add_suspension, sign

KEPT = 16
"""Chassis kept, about 3 MB each."""

_CARRIED: dict[str, object] = {
    "name": "",
    "note": "",
    "mount": "",
    "load_state": "laden",
    "body": None,
    "mounts": {},
    "mounting_frame": None,
    "load_case": {},
    "tank": {},
    "load_states": {},
    "gap": {},
}


@dataclass(frozen=True, eq=False)
class Chassis:
    """A chassis with n degrees of freedom, the first ones of any truck built on it. Not to be changed.

    Attributes
    ----------
    frame : LadderFrame
    frame_mass : float
        [kg]
    kinematics : Kinematics
    equations : Equations
        Its springs, stops and outputs.
    masses : tuple of PointMass
        All that frame, cab and axles bring and carry when nothing is left out.
    gravity : GravityLoads
        Of these masses.
    sagged : (n,)
        Displacements under its own weight on level ground.
    """

    frame: LadderFrame
    frame_mass: float
    kinematics: Kinematics
    equations: Equations
    masses: tuple[PointMass, ...]
    gravity: GravityLoads
    sagged: Array

    def gravity_with(self, kinematics: Kinematics, masses: Sequence[PointMass]) -> GravityLoads:
        """Gravity's effect on all ``masses`` of a truck with ``kinematics`` built on this chassis."""
        own = tuple(mass for mass in masses if kinematics.on_chassis(mass.carried_by))
        carried = [mass for mass in masses if not kinematics.on_chassis(mass.carried_by)]
        loads = self.gravity if own == self.masses else GravityLoads(self.kinematics, own)
        return GravityLoads(kinematics, carried, loads)


def chassis_of(layout: Layout) -> Chassis:
    """The chassis of a truck, made or found.

    Raises
    ------
    ValueError
        If frame, sections or cross-members are impossible, or the bare chassis does not stand.
    """
    own = {name: mass for name, mass in layout.file.mass.items() if mass.carried_by in ("frame", "cab")}
    stripped = layout.file.model_copy(update=_CARRIED | {"mass": own})
    # Bytes tell apart what only compares equal, such as axles in another order.
    return _kept(pickle.dumps(Layout(stripped, layout.references)))


def forget_chassis() -> None:
    """Forget what is kept; the next chassis is worked out afresh."""
    _kept.cache_clear()


@lru_cache(maxsize=KEPT)
def _kept(stripped: bytes) -> Chassis:
    layout: Layout = pickle.loads(stripped)
    frame = ladder(layout)
    steel = frame_mass(layout)
    k = Kinematics(layout, frame, bare=True)
    equations = Equations(k.n, 2 * len(k.axle_stations))
    equations.elastic_part(0, frame.stiffness)
    add_suspension(equations, k)
    _add_cab(equations, k)
    add_frame_outputs(equations, k)
    masses = point_masses(layout, steel, "laden")
    gravity = GravityLoads(k, masses)
    sagged = stand(equations, gravity, "bare on level ground")
    return Chassis(frame, steel, k, equations, tuple(masses), gravity, sagged)


def _add_cab(equations: Equations, k: Kinematics) -> None:
    cab, layout = k.layout.file.cab, k.layout
    for position, stiffness in (
        (cab.front_mounts, cab.front_stiffness),
        (cab.rear_mounts, cab.rear_stiffness),
    ):
        station = layout.station(position)
        for side in SIDES:
            y = 0.5 * sign(side) * cab.mount_track
            equations.spring(k.height("cab", station, y) - k.rail(side, station, y), stiffness)
