"""What a vehicle file leaves open and was filled in, said with the value, so that somebody can look at it."""

import math

from crossaxle.vehicles.constructions import torsional_rigidity
from crossaxle.vehicles.file import AxleEntry, BogieEntry
from crossaxle.vehicles.kinematics import Kinematics, roll_centre
from crossaxle.vehicles.suspension import RATED_DEFLECTION, leaves
from crossaxle.vehicles.tyres import tyre


def assumptions(k: Kinematics, contact_lengths: list[float]) -> list[str]:
    """List the defaults and presets at work.

    Parameters
    ----------
    k : Kinematics
        Of the complete truck.
    contact_lengths : list of float
        Per wheel [m].
    """
    file, layout = k.layout.file, k.layout
    own = [name for name, entry in file.frame.cross_member.items() if entry.joint.model_fields_set]
    rest = "its cross-members" if not own else f"all cross-members but {', '.join(own)}"
    found = [
        f'frame: joints of {rest} are those of the kind "{file.frame.kind}" times {file.frame.joint_factor:g}; '
        "frames of one kind differ by a factor of two and more, a pedestal test tells (`crossaxle calibrate`)"
    ]
    body = file.body
    if body.torsional_stiffness is None:
        stiffness = torsional_rigidity(body.construction) / body.length * math.radians(1) / 1e3
        found.append(
            f"body: torsional stiffness {stiffness:.0f} kN m/deg over its length, an order of magnitude for the "
            f'construction "{body.construction}"'
        )
    for i, (name, axle) in enumerate(file.axle.items()):
        rubber = tyre(axle.tyre)
        if axle.tyre.stiffness is None:
            found.append(
                f"axle {name}: tyre stiffness {rubber.stiffness / 1e6:.2f} kN/mm from {axle.tyre.size} at "
                f"{axle.tyre.pressure / 1e5:.1f} bar"
            )
        if axle.tyre.radius is None:
            found.append(f"axle {name}: tyre radius {1e3 * rubber.radius:.0f} mm from {axle.tyre.size}")
        if axle.tyre.contact_length is None:
            found.append(
                f"axle {name}: contact length {1e3 * contact_lengths[2 * i]:.0f} mm from load and stiffness"
            )
        if axle.roll_centre is None:
            found.append(
                f"axle {name}: roll centre and spring eyes {roll_centre(layout, name):.2f} m high, the rails' "
                "bottom edge"
            )
        if axle.bogie is None:
            found += _spring(f"axle {name}", axle, k)
    for name, bogie in file.bogie.items():
        found += _spring(f"bogie {name}", bogie, k)
    if layout.mount.height is None:
        found.append(
            f"mount: side and fore-aft forces pass {layout.mount_height:.2f} m high, the rails' top edge"
        )
    return found


def _spring(where: str, entry: AxleEntry | BogieEntry, k: Kinematics) -> list[str]:
    found = []
    if entry.spring_rate is None:
        rate = next(leaf.rate for leaf in leaves(k) if leaf.entry is entry)
        source = (
            f"{1e3 * RATED_DEFLECTION:.0f} mm deflection under the permitted load (recalled)"
            if entry.spring_deflection is None
            else f"the stated deflection of {1e3 * entry.spring_deflection:.0f} mm under the permitted load"
        )
        found.append(f"{where}: spring rate {rate / 1e3:.0f} N/mm a side from {source}")
    unstated = [
        f"{name.replace('_', ' ')} {1e3 * getattr(entry, name):.0f} mm"
        for name in ("bump_travel", "rebound_travel")
        if name not in entry.model_fields_set
    ]
    if unstated:
        found.append(f"{where}: {' and '.join(unstated)} from level to the stop")
    return found
