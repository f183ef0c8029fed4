"""What the recorded quantities are called, measured in, judged by and shown as: the one table for all rooms.

Results, limits, histograms, charts, tables of levels and posture figures follow from an entry here.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class Levels:
    """How a quantity stands in the report's tables of levels.

    Attributes
    ----------
    section : str
        Of the report.
    caption : str
        Of the table; quantities of one caption and dimension share it.
    headings : mapping
        ``minimum`` and ``maximum`` to the column's heading; empty: in no table.
    """

    section: str
    caption: str
    headings: Mapping[str, str]


@dataclass(frozen=True)
class Quantity:
    """One quantity of a vehicle as results show it.

    Attributes
    ----------
    dimension : str
        Dimension of its items; empty where there is only one.
    long_name : str
        In words.
    units : str
        SI.
    static : bool
        Whether results hold its value standing level.
    worst : str
        Which values do harm: the ``least``, the ``greatest``, or ``either``; a limit is ``at_least``, ``at_most``, or
        one of both.
    limit : str
        What a study's limits call it; empty: its name with blanks.
    levels : Levels or None
        None: a table of its own kind, under its long name.
    posture : str or None
        Its words in a posture's figures; empty: its long name; None: not there.
    bins : (low, high, width) or None
        Of its histogram, in SI units. None: no histogram, or bins that depend on the trucks.
    """

    dimension: str
    long_name: str
    units: str
    static: bool = False
    worst: Literal["least", "greatest", "either"] = "greatest"
    limit: str = ""
    levels: Levels | None = None
    posture: str | None = ""
    bins: tuple[float, float, float] | None = None

    def shown_levels(self) -> Levels:
        """How it stands in the report's tables of levels."""
        if self.levels is not None:
            return self.levels
        name = f"{self.long_name[:1].upper()}{self.long_name[1:]}"
        both = {"maximum": "Largest", "minimum": "Smallest"}
        ends = {"least": ("minimum",), "greatest": ("maximum",), "either": ("maximum", "minimum")}[self.worst]
        return Levels("frame", name, {end: both[end] for end in ends})


def _levels(section: str, caption: str, maximum: str = "", minimum: str = "") -> Levels:
    return Levels(section, caption, {k: v for k, v in (("maximum", maximum), ("minimum", minimum)) if v})


_ANGLES = (0.0, math.radians(25.0), math.radians(0.1))
_NOT_A_LEVEL = Levels("", "", {})
_HORIZONTAL = "Horizontal mount forces, both rails of a station together"

QUANTITIES = {
    "wheel_load": Quantity(
        "wheel",
        "wheel load normal to the ground's mean plane",
        "N",
        static=True,
        worst="either",
        levels=_NOT_A_LEVEL,
        posture=None,
    ),
    "gap": Quantity("gap", "gap", "m", static=True, worst="least", levels=_NOT_A_LEVEL, posture=None),
    "bracket_stress": Quantity(
        "bracket",
        "bending stress at the bracket's root",
        "Pa",
        static=True,
        levels=_levels("tanks", "Brackets", "Root stress"),
        posture="worst bracket stress",
    ),
    "bracket_cycles": Quantity(
        "bracket",
        "stress range of cycles at the bracket's root",
        "Pa",
        levels=_NOT_A_LEVEL,
        posture=None,
    ),
    "strap_force": Quantity(
        "bracket",
        "strap force of the bracket, tension positive",
        "N",
        worst="either",
        levels=_levels("tanks", "Brackets", "Strap force"),
        posture=None,
    ),
    "tank_level_difference": Quantity(
        "tank",
        "level difference across the tank between its brackets",
        "m",
        levels=_levels("tanks", "Tanks", "Level difference"),
        posture="tank, level difference",
    ),
    "tank_torque": Quantity(
        "tank", "torque in the tank", "N m", levels=_levels("tanks", "Tanks", "Tank torque"), posture=None
    ),
    "frame_twist": Quantity(
        "",
        "frame twist between the first and the last axle",
        "rad",
        levels=_levels("frame", "Frame and body", "Frame twist"),
        posture="frame twist",
        bins=_ANGLES,
    ),
    "station_twist": Quantity(
        "station",
        "frame twist between the first axle and the station",
        "rad",
        levels=_NOT_A_LEVEL,
        posture=None,
    ),
    "body_torque": Quantity(
        "",
        "torque about x in the body",
        "N m",
        levels=_levels("frame", "Frame and body", "Body torque"),
        posture="torque in the body",
    ),
    "body_roll": Quantity(
        "",
        "lean of the body against the ground's mean plane",
        "rad",
        limit="lean",
        levels=_levels("stability", "Lean and tipping", "Lean"),
        posture="lean of the body",
        bins=_ANGLES,
    ),
    "mount_travel": Quantity(
        "mount_point",
        "relative travel of frame and body at the mount",
        "m",
        levels=_levels("frame", "Mounts", "Travel"),
        posture="largest mount travel",
    ),
    "mount_force": Quantity(
        "mount_point",
        "vertical mount force",
        "N",
        static=True,
        worst="either",
        levels=_levels("frame", "Mounts", "Largest force", "Smallest force"),
        posture=None,
    ),
    "mount_side_force": Quantity(
        "mount_station",
        "side force at the mount",
        "N",
        worst="either",
        levels=_levels("frame", _HORIZONTAL, "To the left", "To the right (negative)"),
        posture=None,
    ),
    "mount_fore_aft_force": Quantity(
        "mount_station",
        "fore-and-aft force at the mount",
        "N",
        worst="either",
        levels=_levels("frame", _HORIZONTAL, "Forward", "Rearward (negative)"),
        posture=None,
    ),
    "pivot_angle": Quantity(
        "pivot", "angle of the pivot", "rad", levels=_levels("frame", "Pivots", "Angle"), posture=None
    ),
    "pivot_stop_share": Quantity(
        "pivot",
        "share of the angle to its stop that the pivot uses",
        "1",
        limit="stop share",
        levels=_NOT_A_LEVEL,
        posture=None,
    ),
    "tip_margin": Quantity(
        "",
        "tip margin",
        "1",
        worst="least",
        levels=_levels("stability", "Lean and tipping", "", "Tip margin"),
        posture="tip margin",
    ),
}
"""By the name that vehicles give their outputs, in the order in which tables show them."""


def short_name(name: str) -> str:
    """Word of a quantity in limits and along axes."""
    return QUANTITIES[name].limit or name.replace("_", " ")


@dataclass(frozen=True)
class LevelTable:
    """A table of levels: section, caption, the items' dimension, and variables of results with their headings."""

    section: str
    caption: str
    dimension: str
    headings: dict[str, str] = field(default_factory=dict)


def level_tables() -> list[LevelTable]:
    """List the report's tables of levels."""
    found: dict[tuple[str, str, str], LevelTable] = {}
    for name, quantity in QUANTITIES.items():
        shown = quantity.shown_levels()
        for end, heading in shown.headings.items():
            key = (shown.section, shown.caption, quantity.dimension)
            found.setdefault(key, LevelTable(*key)).headings[f"{name}_{end}"] = heading
    return list(found.values())


CYCLES = {"bracket_stress": "bracket_cycles"}
"""What the counted cycles of a quantity are called."""

DERIVED = {"pivot_stop_share": "pivot_angle"}
"""Quantities that are worked out from results, each with the recorded one whose items it has."""

DIMENSIONS = {
    "course": "course",
    "sample": "sample of random ground",
    "fold": "group of samples, sample number modulo the number of folds",
    "wheel": "wheel",
    "axle": "axle",
    "gap": "gap",
    "tank": "tank",
    "bracket": "tank bracket",
    "mount_point": "point at which the body rests on the frame",
    "mount_station": "station of the mount along the frame",
    "pivot": "pivot of the mount",
    "station": "named station along the frame",
    "uncertain": "uncertain value of the vehicle file",
}


def is_least(variable: str) -> bool:
    """Whether a variable of results is a least value, worse the smaller it is; all other extremes are largest ones."""
    return variable.endswith("_minimum")
