"""Cross sections of rails and cross-members: the numbers that bending and torsion need.

Frame: the section stands upright, z up; a rail's y runs from the web's mid-plane towards its flanges. Open,
closed and built-up sections have modules of their own. A rail of unsymmetric section is taken as held straight
sideways by the cross-members, so that its second moment about the horizontal axis counts.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Section:
    """Properties of a section; also the constructor for values from a table.

    Attributes
    ----------
    area : float
        [m2]
    second_moment_y : float
        About the horizontal axis, vertical bending [m4].
    torsion_constant : float
        Saint-Venant J [m4].
    section_modulus_y : float
        Second moment over the distance of the farthest fibre [m3].
    second_moment_z : float
        About the vertical axis [m4]; nan where a table does not give it.
    warping_constant : float
        Cw [m6]; 0 for closed sections.
    shear_centre : float
        Distance from the web's mid-plane to the shear centre, positive away from the flanges [m]; 0 if
        symmetric.
    flange_height : float
        Between the mid-lines of upper and lower flange, which carry warping into a joint [m]; 0 for closed
        sections.
    sectorial_coordinate : float
        Largest absolute normalised sectorial coordinate, at a flange's edge [m2]; warping stress is bimoment
        times this over Cw.
    opposite_sectorial_coordinate : float
        Largest at fibres where warping stress opposes bending stress while it adds at the flange's edge [m2]:
        the web corner of a channel, another flange edge of an I section; nan (taken as equal) where a table
        does not give it.
    shear_area_z : float
        Effective area in vertical shear [m2]; math.inf leaves shear flexibility out.
    reach : float
        From the web's mid-plane to the face where a cross-member begins [m]: half the web, or half a tube.
    flange_width, flange_thickness : float
        From the web's mid-plane to a flange's edge, and the flange's sheet [m], where flanges of rail and
        cross-member lie on each other; 0 for closed sections.

    Raises
    ------
    ValueError
        If a property that must be positive is not, one that cannot be negative is, or a section with its
        shear centre off the web has no warping constant.
    """

    area: float
    second_moment_y: float
    torsion_constant: float
    section_modulus_y: float
    second_moment_z: float = math.nan
    warping_constant: float = 0.0
    shear_centre: float = 0.0
    flange_height: float = 0.0
    sectorial_coordinate: float = 0.0
    opposite_sectorial_coordinate: float = math.nan
    shear_area_z: float = math.inf
    reach: float = 0.0
    flange_width: float = 0.0
    flange_thickness: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no section can have."""
        for name in ("area", "second_moment_y", "torsion_constant", "section_modulus_y", "shear_area_z"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"section: {name} is {getattr(self, name):g}; it must be above 0")
        for name in (
            "warping_constant",
            "flange_height",
            "sectorial_coordinate",
            "reach",
            "flange_width",
            "flange_thickness",
        ):
            if not getattr(self, name) >= 0.0:
                raise ValueError(f"section: {name} is {getattr(self, name):g}; it must be 0 or more")
        if not math.isfinite(self.shear_centre):
            raise ValueError(f"section: shear_centre is {self.shear_centre:g}; it must be a finite distance")
        if self.shear_centre != 0.0 and self.warping_constant == 0.0:
            # The slope at the web then differs from that at the shear centre by a jump at every joint.
            raise ValueError(
                f"section: shear_centre is {self.shear_centre:g} but warping_constant is 0; "
                "a section with its shear centre off the web warps: give its warping constant"
            )


def require_positive(what: str, **values: float) -> None:
    """Refuse lengths [m] that are not above 0 with a ValueError that names them."""
    for name, value in values.items():
        if not (value > 0.0 and math.isfinite(value)):
            raise ValueError(f"{what}: {name} is {value:g} m; it must be a length above 0")


def require_not_negative(what: str, **values: float) -> None:
    """Refuse lengths [m] below 0 with a ValueError that names them."""
    for name, value in values.items():
        if not (value >= 0.0 and math.isfinite(value)):
            raise ValueError(f"{what}: {name} is {value:g} m; it must be 0 or a length above 0")


def require_room(what: str, name: str, value: float, taken: float, by: str) -> None:
    """Refuse a length [m] that what lies along it already takes up, with a ValueError that says by what."""
    if not value > taken:
        raise ValueError(
            f"{what}: {name} is {value:g} m; {by} take {taken:g} m, so it must be more than that"
        )
