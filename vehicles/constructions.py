"""Torsional rigidity of bodies by construction, for bodies whose stiffness nobody has measured.

Orders of magnitude chosen for a body 2.4 m wide and 2.2 m high, no source; doors, windows and end openings
take most of what a closed box would have by Bredt's formula. Replace by a measured value where it matters.
"""

from types import MappingProxyType

RIGIDITY = MappingProxyType(
    {
        "sandwich box": 1.0e7,
        "steel frame and sheet": 4.0e6,
        "aluminium frame and sheet": 2.0e6,
        "open platform": 1.5e5,
    }
)
"""Torque per twist rate [N m2/rad]."""


def torsional_rigidity(construction: str) -> float:
    """Torsional rigidity of a construction [N m2/rad].

    Raises
    ------
    ValueError
        If there is no such construction.
    """
    if construction not in RIGIDITY:
        allowed = ", ".join(sorted(RIGIDITY))
        raise ValueError(f'body.construction: found "{construction}"; allowed are {allowed}')
    return RIGIDITY[construction]
