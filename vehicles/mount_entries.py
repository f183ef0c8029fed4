"""What a vehicle file may say of the mounts between frame and body."""

from typing import Annotated, Literal

from pydantic import Field

from crossaxle.vehicles.entry import Name, VehicleTable
from crossaxle.vehicles.position import PositionText
from crossaxle.vehicles.quantity import Angle, Force, Length, Stiffness, TorsionalStiffness


class MountBase(VehicleTable):
    """What all mounts say.

    ``stiffness`` is the vertical one at each rail; ``height`` that of the plane in which side and fore-aft
    forces pass (default: the rails' top edge); ``side_force_at`` and ``fore_aft_force_at`` name the mount
    stations that take those forces (default: all, and those that hold the body to both rails).
    """

    stiffness: Stiffness
    height: Length | None = None
    side_force_at: list[Name] = []
    fore_aft_force_at: list[Name] = []


class RigidMount(MountBase):
    """Bolted solid: both rails at every mount station."""

    kind: Literal["rigid"]
    at: Annotated[
        list[PositionText],
        Field(min_length=2, max_length=12, examples=[["body front + 0.3 m", "body rear - 0.3 m"]]),
    ]


class ThreePointMount(MountBase):
    """A pair on the rails near one axle and a pivot on the centre line near the other."""

    kind: Literal["three-point"]
    pair: PositionText
    pivot: PositionText
    pivot_stiffness: Stiffness | None = None
    stop_angle: Angle
    stop_stiffness: TorsionalStiffness = 1.5e6
    stop_lever: Length = 0.3


class FourPointMount(MountBase):
    """Pivots on the centre line front and rear, a pair on the rails between them."""

    kind: Literal["four-point"]
    front_pivot: PositionText
    pair: PositionText
    rear_pivot: PositionText
    pivot_stiffness: Stiffness | None = None
    stop_angle: Angle
    stop_stiffness: TorsionalStiffness = 1.5e6
    stop_lever: Length = 0.3


class SprungMount(MountBase):
    """A fixed pair; the other stations are held down by preloaded springs that let the frame drop away."""

    kind: Literal["sprung"]
    fixed: PositionText
    sprung: Annotated[
        list[PositionText], Field(min_length=1, max_length=12, examples=[["body front + 0.3 m"]])
    ]
    contact_stiffness: Stiffness
    spring_rate: Stiffness
    preload: Force
    travel: Length
    stop_stiffness: Stiffness = 5e6


AnyMount = Annotated[RigidMount | ThreePointMount | FourPointMount | SprungMount, Field(discriminator="kind")]
