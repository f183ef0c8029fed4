"""What the recorded quantities are called and measured in: the one table of names for results and posture figures."""

from dataclasses import dataclass


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
    """

    dimension: str
    long_name: str
    units: str
    static: bool = False


QUANTITIES = {
    "wheel_load": Quantity("wheel", "wheel load normal to the ground's mean plane", "N", static=True),
    "gap": Quantity("gap", "gap", "m", static=True),
    "bracket_stress": Quantity("bracket", "bending stress at the bracket's root", "Pa", static=True),
    "bracket_cycles": Quantity("bracket", "stress range of cycles at the bracket's root", "Pa"),
    "strap_force": Quantity("bracket", "strap force of the bracket, tension positive", "N"),
    "tank_level_difference": Quantity("tank", "level difference across the tank between its brackets", "m"),
    "tank_torque": Quantity("tank", "torque in the tank", "N m"),
    "frame_twist": Quantity("", "frame twist between the first and the last axle", "rad"),
    "station_twist": Quantity("station", "frame twist between the first axle and the station", "rad"),
    "body_torque": Quantity("", "torque about x in the body", "N m"),
    "body_roll": Quantity("", "lean of the body against the ground's mean plane", "rad"),
    "mount_travel": Quantity("mount_point", "relative travel of frame and body at the mount", "m"),
    "mount_force": Quantity("mount_point", "vertical mount force", "N", static=True),
    "mount_side_force": Quantity("mount_station", "side force at the mount", "N"),
    "mount_fore_aft_force": Quantity("mount_station", "fore-and-aft force at the mount", "N"),
    "pivot_angle": Quantity("pivot", "angle of the pivot", "rad"),
    "tip_margin": Quantity("", "tip margin", "1"),
}
"""By the name that vehicles give their outputs."""

CYCLES = {"bracket_stress": "bracket_cycles"}
"""What the counted cycles of a quantity are called."""

DIMENSIONS = {
    "course": "course",
    "sample": "sample of random ground",
    "fold": "group of samples, sample number modulo the number of folds",
    "wheel": "wheel",
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
