"""What a vehicle file may say of a cross section: one shape with its dimensions, or properties from a table."""

from typing import Annotated, Literal

from pydantic import Field

from crossaxle.vehicles.entry import VehicleTable
from crossaxle.vehicles.quantity import (
    Area,
    Distance,
    Length,
    SecondMoment,
    SectionModulus,
    SectorialCoordinate,
    WarpingConstant,
)


class Channel(VehicleTable):
    """Channel, pressed from one thickness (with an inner bend radius) or rolled with two."""

    shape: Literal["channel"]
    height: Length
    width: Length
    thickness: Length
    flange_thickness: Length | None = None
    bend_radius: Distance = 0.0


class Hat(VehicleTable):
    """Hat section: a channel with outward lips, of one thickness."""

    shape: Literal["hat"]
    height: Length
    width: Length
    lip: Length
    thickness: Length


class ZSection(VehicleTable):
    """Z section of one thickness."""

    shape: Literal["z"]
    height: Length
    width: Length
    thickness: Length


class ISection(VehicleTable):
    """Symmetric I section."""

    shape: Literal["i"]
    height: Length
    width: Length
    thickness: Length
    flange_thickness: Length


class RectangularTube(VehicleTable):
    """Closed rectangular tube."""

    shape: Literal["rectangular tube"]
    height: Length
    width: Length
    thickness: Length


class RoundTube(VehicleTable):
    """Closed round tube."""

    shape: Literal["round tube"]
    diameter: Length
    thickness: Length


class NestedChannels(VehicleTable):
    """A channel with a second one set inside it, web on web and flange on flange."""

    shape: Literal["nested channels"]
    height: Length
    width: Length
    thickness: Length
    inner_width: Length
    inner_thickness: Length


class BackToBackChannels(VehicleTable):
    """Two equal channels joined web to web, flanges pointing away from each other."""

    shape: Literal["back-to-back channels"]
    height: Length
    width: Length
    thickness: Length


class PlatedChannel(VehicleTable):
    """A pressed channel with a flat upright plate on the inside of its web."""

    shape: Literal["plated channel"]
    height: Length
    width: Length
    thickness: Length
    plate_height: Length
    plate_thickness: Length


class FlatBar(VehicleTable):
    """Solid flat bar, upright or lying."""

    shape: Literal["flat"]
    height: Length
    width: Length


class TableSection(VehicleTable):
    """Section properties straight from a table."""

    shape: Literal["properties"]
    area: Area
    second_moment: SecondMoment
    section_modulus: SectionModulus
    torsion_constant: SecondMoment
    warping_constant: WarpingConstant = 0.0
    shear_centre: Distance = 0.0
    flange_height: Distance = 0.0
    sectorial_coordinate: SectorialCoordinate = 0.0


AnySection = Annotated[
    Channel
    | Hat
    | ZSection
    | ISection
    | RectangularTube
    | RoundTube
    | NestedChannels
    | BackToBackChannels
    | PlatedChannel
    | FlatBar
    | TableSection,
    Field(discriminator="shape"),
]
