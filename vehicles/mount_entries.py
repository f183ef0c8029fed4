"""Kinds of mounts between frame and body: what a vehicle file says of each, and what it is made of.

A class that derives from `MountBase` above `AnyMount` is a kind of mount: files may name it, and its supports
become springs, stops, outputs, pictures, sizes to build and checks of plausibility by themselves.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal, Union

from pydantic import Field

from crossaxle.vehicles.entry import Name, VehicleTable
from crossaxle.vehicles.position import Position, PositionText
from crossaxle.vehicles.quantity import Angle, Force, Length, Stiffness, TorsionalStiffness


@dataclass(frozen=True)
class Pivot:
    """What a support on the centre line lets turn about x, and what stops it.

    Attributes
    ----------
    stop_angle : float
        Relative roll of frame and body at which a stop is met, either way [rad].
    stop_stiffness : float
        Of the stop [N m/rad].
    stop_lever : float
        Distance of the stop from the pivot [m].
    """

    stop_angle: float
    stop_stiffness: float
    stop_lever: float


@dataclass(frozen=True)
class HoldDown:
    """A contact that a preloaded spring clamps and that may open until the spring's travel is used up. SI units."""

    contact_stiffness: float
    spring_rate: float
    preload: float
    travel: float
    stop_stiffness: float


@dataclass(frozen=True)
class Support:
    """One station of a mount: a point on each rail, or one pivot on the centre line.

    Attributes
    ----------
    name : str
    at : Position
    stiffness : float
        Vertical, of each point [N/m]; where the body is held down, that of contact and spring together.
    pivot : Pivot or None
    hold_down : HoldDown or None
    """

    name: str
    at: Position
    stiffness: float
    pivot: Pivot | None = None
    hold_down: HoldDown | None = None

    @property
    def holds_both_rails(self) -> bool:
        """Whether it ties the body to both rails for good, so that it takes fore-aft force."""
        return self.pivot is None and self.hold_down is None


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

    def supports(self) -> list[Support]:
        """List the mount's stations in the order of outputs and tables."""
        raise NotImplementedError


class RigidMount(MountBase):
    """Bolted solid: both rails at every mount station."""

    kind: Literal["rigid"]
    at: Annotated[
        list[PositionText],
        Field(min_length=2, max_length=12, examples=[["body front + 0.3 m", "body rear - 0.3 m"]]),
    ]

    def supports(self) -> list[Support]:
        """List a pair on the rails at every station."""
        return [Support(str(i + 1), at, self.stiffness) for i, at in enumerate(self.at)]


class _Pivoting(MountBase):
    """What mounts with pivots say of them; a pivot is as stiff as both points of a pair if nothing is said."""

    pivot_stiffness: Stiffness | None = None
    stop_angle: Angle
    stop_stiffness: TorsionalStiffness = 1.5e6
    stop_lever: Length = 0.3

    def _pivot(self, name: str, at: Position) -> Support:
        pivot = Pivot(self.stop_angle, self.stop_stiffness, self.stop_lever)
        return Support(name, at, self.pivot_stiffness or 2 * self.stiffness, pivot)


class ThreePointMount(_Pivoting):
    """A pair on the rails near one axle and a pivot on the centre line near the other."""

    kind: Literal["three-point"]
    pair: PositionText
    pivot: PositionText

    def supports(self) -> list[Support]:
        """List the pair and the pivot."""
        return [Support("pair", self.pair, self.stiffness), self._pivot("pivot", self.pivot)]


class FourPointMount(_Pivoting):
    """Pivots on the centre line front and rear, a pair on the rails between them."""

    kind: Literal["four-point"]
    front_pivot: PositionText
    pair: PositionText
    rear_pivot: PositionText

    def supports(self) -> list[Support]:
        """List the pivots with the pair between them."""
        return [
            self._pivot("front pivot", self.front_pivot),
            Support("pair", self.pair, self.stiffness),
            self._pivot("rear pivot", self.rear_pivot),
        ]


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

    def supports(self) -> list[Support]:
        """List the fixed pair and the pairs that are held down."""
        stiffness = self.contact_stiffness + self.spring_rate
        hold = HoldDown(
            self.contact_stiffness, self.spring_rate, self.preload, self.travel, self.stop_stiffness
        )
        sprung = [Support(f"sprung {i + 1}", at, stiffness, None, hold) for i, at in enumerate(self.sprung)]
        return [Support("fixed", self.fixed, self.stiffness), *sprung]


def _kinds(base: type[MountBase]) -> list[type[MountBase]]:
    """Kinds among a class and what derives from it, in the order of their definition."""
    own = [base] if "kind" in base.model_fields else []
    return [*own, *(kind for derived in base.__subclasses__() for kind in _kinds(derived))]


if TYPE_CHECKING:
    AnyMount = MountBase
else:
    AnyMount = Annotated[Union[tuple(_kinds(MountBase))], Field(discriminator="kind")]  # noqa: UP007
