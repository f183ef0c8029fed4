"""What a vehicle file may say.

One file describes a truck at every wheelbase: positions are relative to named references
(`crossaxle.vehicles.position`), heights are above level ground with the truck laden, and lateral positions are
positive to the left. Optional values have defaults or presets; `crossaxle.vehicles.assumptions` lists those used.
"""

from collections.abc import Iterable
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from crossaxle.vehicles.entry import Name, VehicleTable
from crossaxle.vehicles.mount_entries import AnyMount
from crossaxle.vehicles.position import PositionText
from crossaxle.vehicles.quantity import (
    AddedStiffness,
    AddedTorsionalStiffness,
    Coordinate,
    Factor,
    Length,
    Mass,
    Pressure,
    SecondMoment,
    SectionModulus,
    Stiffness,
    TorsionalStiffness,
)
from crossaxle.vehicles.section_entries import AnySection

Fraction = Annotated[float, Field(ge=0, le=1, strict=False)]


class JointEntry(VehicleTable):
    """Stiffness of the joint between a cross-member and a rail; what is left out comes from the frame's kind."""

    bending: TorsionalStiffness | None = None
    torsion: TorsionalStiffness | None = None
    warping: AddedTorsionalStiffness | None = None
    gusset: AddedTorsionalStiffness | None = None
    overlap: Fraction | None = None


class CrossMemberEntry(VehicleTable):
    """A cross-member between the rails."""

    at: PositionText
    section: AnySection
    joint: JointEntry = JointEntry()


class ReinforcementEntry(VehicleTable):
    """A stretch over which the rails have another section (an inner channel, a doubled web ...)."""

    start: PositionText
    end: PositionText
    section: AnySection


class FrameEntry(VehicleTable):
    """The ladder frame.

    Factors carry what a pedestal test has measured: ``joint_factor`` on all joints, the two others on their torsional
    and warping stiffness on top (gussets count as warping), ``stiffness_factor`` on the whole frame, rails included.
    """

    kind: Annotated[Name, Field(examples=["welded channels"])]
    front: PositionText
    rear: PositionText
    height: Length
    spacing: Length
    section: AnySection
    cross_member: dict[Name, CrossMemberEntry]
    reinforcement: dict[Name, ReinforcementEntry] = {}
    joint_factor: Factor = 1.0
    joint_torsion_factor: Factor = 1.0
    joint_warping_factor: Factor = 1.0
    stiffness_factor: Factor = 1.0
    mass: Mass | None = None
    youngs_modulus: Pressure = 210e9
    shear_modulus: Pressure = 80.77e9


class MountingFrameEntry(VehicleTable):
    """A second ladder on top of the first: the body stands on it at carriers, and it stands on the mounts.

    Only rigid and sprung mounts have one; otherwise the mounting frame is part of the body. Its mass belongs to
    the body's items.
    """

    kind: Annotated[Name, Field(examples=["welded channels"])]
    front: PositionText
    rear: PositionText
    section: AnySection
    cross_member: dict[Name, CrossMemberEntry]
    carriers: Annotated[
        list[PositionText],
        Field(min_length=2, max_length=20, examples=[["body front + 0.3 m", "body rear - 0.3 m"]]),
    ]
    carrier_stiffness: Stiffness


class TyreEntry(VehicleTable):
    """A tyre; stiffness and radius follow from size and pressure unless they are given."""

    size: Annotated[Name, Field(examples=["395/85R20"])]
    pressure: Pressure
    stiffness: Stiffness | None = None
    radius: Length | None = None
    contact_length: Length | None = None


class AxleEntry(VehicleTable):
    """A beam axle on two leaf springs.

    The travels are measured from the level position of the laden truck. ``bogie`` names the equalised
    pair the axle belongs to; its springs then stand in the bogie's own table.
    """

    at: PositionText
    mass: Mass
    wheel_track: Length
    permitted_load: Mass
    tyre: TyreEntry
    spring_track: Length | None = None
    spring_length: Length = 1.4
    spring_rate: Stiffness | None = None
    spring_deflection: Length | None = None
    helper_rate: AddedStiffness = 0.0
    helper_from: Coordinate = 0.0
    bump_travel: Length = 0.09
    bump_rate: Stiffness = 2.5e6
    rebound_travel: Length = 0.12
    rebound_rate: Stiffness = 2.5e6
    anti_roll: AddedTorsionalStiffness = 0.0
    roll_centre: Length | None = None
    bogie: Name | None = None

    @model_validator(mode="after")
    def _one_source_for_the_rate(self) -> Self:
        if self.spring_rate is not None and self.spring_deflection is not None:
            raise ValueError("has both spring_rate and spring_deflection; give one of them")
        if self.bogie is None and self.spring_track is None:
            raise ValueError("lacks spring_track (distance between its two leaf springs)")
        return self


class BogieEntry(VehicleTable):
    """An equalised pair of axles: one spring per side, on a trunnion, bearing on both axle ends alike."""

    trunnion: PositionText
    spring_track: Length
    spring_rate: Stiffness | None = None
    spring_deflection: Length | None = None
    bump_travel: Length = 0.09
    bump_rate: Stiffness = 2.5e6
    rebound_travel: Length = 0.12
    rebound_rate: Stiffness = 2.5e6
    articulation_travel: Length = 0.16
    articulation_rate: Stiffness = 2.5e6
    leaf_rate: Stiffness = 20e3


class CabEntry(VehicleTable):
    """The cab, rigid on four mounts."""

    front: PositionText
    back: PositionText
    front_mounts: PositionText
    rear_mounts: PositionText
    mount_track: Length
    mount_height: Length
    front_stiffness: Stiffness = 400e3
    rear_stiffness: Stiffness = 200e3
    roof: Length


class BodyEntry(VehicleTable):
    """The body: a stiff box between two stations."""

    front: PositionText
    length: Length
    width: Length
    floor: Length
    roof: Length
    construction: Annotated[Name, Field(examples=["sandwich box"])]
    torsional_stiffness: TorsionalStiffness | None = None


DETAIL_CATEGORIES = (36, 40, 45, 50, 56, 63, 71, 80, 90, 100, 112, 125, 140, 160)
"""Of EN 1993-1-9:2005 [MPa]."""

HOT_SPOT_CATEGORIES = (90, 100, 112)
"""Those of its annex B, for the structural stress at a weld's toe [MPa] (recalled)."""


def _a_category(value: float) -> float:
    if not any(abs(value / 1e6 - category) < 1e-6 for category in DETAIL_CATEGORIES):
        allowed = ", ".join(str(category) for category in DETAIL_CATEGORIES)
        raise ValueError(
            f"is {value / 1e6:g} MPa, no detail category of EN 1993-1-9:2005; allowed are {allowed} MPa, as in "
            '"71 MPa"'
        )
    return value


DetailCategory = Annotated[Pressure, AfterValidator(_a_category)]


class BracketEntry(VehicleTable):
    """Cantilever brackets of a tank: section at the root and what limits them.

    ``detail_category``: of the weld at the root, EN 1993-1-9:2005; where it is left out, cycles are not counted and
    fatigue is skipped. ``detail_kind`` says for which stress it holds, so that no notch counts twice: "nominal" for
    the nominal stress, with a ``hot_spot_factor`` of 1; "hot-spot" for the structural stress, with a factor above 1
    and a category of annex B, table B.1 (90, 100 or 112 MPa; recalled).
    """

    inner: Length
    outer: Length
    second_moment: SecondMoment
    section_modulus: SectionModulus
    root_stiffness: TorsionalStiffness
    pad_stiffness: Stiffness = 4e6
    hot_spot_factor: Factor = 1.5
    detail_category: DetailCategory | None = None
    detail_kind: Literal["nominal", "hot-spot"] | None = None

    @model_validator(mode="after")
    def _notch_counts_once(self) -> Self:
        if self.detail_category is None:
            if self.detail_kind is not None:
                raise ValueError(f'has detail_kind "{self.detail_kind}" but no detail_category; give both')
            return self
        allowed = (
            'allowed are detail_kind = "nominal" with hot_spot_factor = 1, or detail_kind = "hot-spot" with '
            "hot_spot_factor above 1 and a detail_category of 90, 100 or 112 MPa (EN 1993-1-9:2005, annex B)"
        )
        given = (
            f"hot_spot_factor {self.hot_spot_factor:g}, detail_category {self.detail_category / 1e6:g} MPa"
        )
        if self.detail_kind is None:
            raise ValueError(f"has no detail_kind ({given}); {allowed}")
        nominal, raised = self.detail_kind == "nominal", self.hot_spot_factor > 1
        toe = any(abs(self.detail_category / 1e6 - category) < 1e-6 for category in HOT_SPOT_CATEGORIES)
        if nominal == raised or not (nominal or toe) or self.hot_spot_factor < 1:
            raise ValueError(f'has detail_kind "{self.detail_kind}" with {given}; {allowed}')
        return self

    @model_validator(mode="after")
    def _outer_beyond_inner(self) -> Self:
        if self.outer <= self.inner:
            raise ValueError(
                f"outer ({self.outer:.3g} m) must lie farther from the rail than inner ({self.inner:.3g} m)"
            )
        return self


class TankEntry(VehicleTable):
    """A stiff box on two or more brackets on one rail."""

    side: Literal["left", "right"]
    centre: PositionText
    spacing: Length
    count: Annotated[int, Field(ge=2, le=8)] = 2
    height: Length
    torsional_stiffness: TorsionalStiffness
    bracket: BracketEntry


class MassEntry(VehicleTable):
    """One item of the mass list; ``carried_by`` is frame, cab, body or ``tank NAME``."""

    mass: Mass
    carried_by: Annotated[Name, Field(examples=["body"])]
    at: PositionText
    y: Coordinate = 0.0
    z: Length


class LoadStateEntry(VehicleTable):
    """A load state: which items are left out, and the share of their mass that others have."""

    leave_out: list[Name] = []
    fill: dict[Name, Fraction] = {}


Multiple = Annotated[float, Field(ge=-10, le=10, strict=False)]


class LoadCaseEntry(VehicleTable):
    """A load case for the mounts, as multiples of standard gravity: braking pushes the body forward.

    ``vertical`` is 1 at rest; a shock makes it larger, a wheel dropping away smaller.
    """

    forward: Multiple = 0.0
    left: Multiple = 0.0
    vertical: Multiple = 1.0


class PointEntry(VehicleTable):
    """A point: station, lateral position (left positive), height above level ground."""

    at: PositionText
    y: Coordinate = 0.0
    z: Length


class BoxEntry(VehicleTable):
    """A box between two stations, two lateral positions and two heights."""

    start: PositionText
    end: PositionText
    right: Coordinate
    left: Coordinate
    bottom: Length
    top: Length

    @model_validator(mode="after")
    def _not_inside_out(self) -> Self:
        if self.left <= self.right:
            raise ValueError("left must be greater than right (lateral positions are positive to the left)")
        if self.top <= self.bottom:
            raise ValueError("top must be above bottom")
        return self


class GapEntry(VehicleTable):
    """Clearance between two parts, either at one place or between two boxes.

    ``direction`` is the way from the first part to the second; ``clearance`` is the gap with the truck
    laden on level ground (with boxes it follows from them and must be left out).
    """

    between: Annotated[list[Name], Field(min_length=2, max_length=2, examples=[["cab", "body"]])]
    direction: Literal["up", "down", "forward", "rearward", "left", "right"]
    clearance: Length | None = None
    place: PointEntry | None = None
    boxes: Annotated[list[BoxEntry], Field(min_length=2, max_length=2)] | None = None

    @model_validator(mode="after")
    def _place_or_boxes(self) -> Self:
        if (self.place is None) == (self.boxes is None):
            raise ValueError("needs either place (one point) or boxes (two of them)")
        if (self.place is None) != (self.clearance is None):
            raise ValueError("needs clearance with place; with boxes the clearance follows from them")
        return self


class VehicleFile(VehicleTable):
    """A truck: frame, axles, cab, body, mounts, tanks, masses, load states and gaps."""

    name: Annotated[Name, Field(examples=["field clinic"])]
    note: str = ""
    wheelbase: Length
    mount: Annotated[Name, Field(examples=["rigid"])]
    load_state: Name = "laden"
    frame: FrameEntry
    axle: Annotated[dict[Name, AxleEntry], Field(min_length=2, max_length=4)]
    bogie: dict[Name, BogieEntry] = {}
    cab: CabEntry
    body: BodyEntry
    mounts: Annotated[dict[Name, AnyMount], Field(min_length=1)]
    mounting_frame: MountingFrameEntry | None = None
    station: dict[Name, PositionText] = {}
    load_case: dict[Name, LoadCaseEntry] = {}
    tank: dict[Name, TankEntry] = {}
    mass: dict[Name, MassEntry]
    load_states: dict[Name, LoadStateEntry] = {}
    gap: dict[Name, GapEntry] = {}

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        problems = []
        if self.mount not in self.mounts:
            problems.append(f'mount "{self.mount}" is not among the mounts {_listed(self.mounts)}')
        if self.load_state != "laden" and self.load_state not in self.load_states:
            problems.append(
                f'load_state "{self.load_state}" is neither "laden" nor among the load_states: '
                f"{_listed(self.load_states) or 'the file has none'}"
            )
        carriers = {"frame", "cab", "body"} | {f"tank {name}" for name in self.tank}
        for name, mass in self.mass.items():
            if mass.carried_by not in carriers:
                problems.append(
                    f'mass.{name}.carried_by: found "{mass.carried_by}"; allowed are {_listed(carriers)}'
                )
        for state, entry in self.load_states.items():
            problems += [
                f'load_states.{state}: "{item}" is not an item of the mass list'
                for item in [*entry.leave_out, *entry.fill]
                if item not in self.mass
            ]
        for name, axle in self.axle.items():
            if axle.bogie is not None and axle.bogie not in self.bogie:
                problems.append(
                    f'axle.{name}.bogie: "{axle.bogie}" is not among the bogies: '
                    f"{_listed(self.bogie) or 'the file has none'}"
                )
        for name in self.bogie:
            members = [axle for axle in self.axle.values() if axle.bogie == name]
            if len(members) != 2:
                problems.append(f"bogie.{name}: {len(members)} axles name it; an equalised pair has 2")
        parts = carriers | {f"axle {name}" for name in self.axle} | {"left rail", "right rail"}
        for name, gap in self.gap.items():
            problems += [
                f'gap.{name}.between: found "{part}"; allowed are {_listed(parts)}'
                for part in gap.between
                if part not in parts
            ]
        if problems:
            raise ValueError("; ".join(problems))
        return self


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))
