"""What a vehicle cannot be (refused, with reason and remedy) and what looks wrong (warned of, with numbers)."""

from collections.abc import Mapping, Sequence

from crossaxle.vehicles.gravity import PointMass
from crossaxle.vehicles.layout import Layout
from crossaxle.vehicles.suspension import GRAVITY

LEAST_MOUNT_BASE = 0.5  # m between the stations of a three-point mount


def refuse_impossible(layout: Layout) -> None:
    """Check that everything stands where it can.

    Raises
    ------
    ValueError
        With one line per impossibility: what was found, what is allowed, what to change.
    """
    problems = [
        *_order(layout),
        *_on_the_frame(layout),
        *_mount(layout),
    ]
    if problems:
        raise ValueError("; ".join(problems))


def _order(layout: Layout) -> list[str]:
    r = layout.references
    problems = []
    axles = [layout.station(axle.at) for axle in layout.file.axle.values()]
    if axles != sorted(axles) or len(set(axles)) != len(axles):
        problems.append(f"axle: found stations {axles} m; list the axles from front to rear, none twice")
    if abs(axles[0]) > 1e-9:
        problems.append(f'axle: the first axle stands at {axles[0]:.3g} m; place it at "front axle"')
    cab_back = r["cab back"]
    if cab_back >= axles[-1]:
        problems.append(
            f"wheelbase: found {layout.file.wheelbase:.3g} m, but the cab's back is {cab_back:.3g} m behind the "
            f"front axle and the last axle at {axles[-1]:.3g} m; allowed a wheelbase longer than the cab"
        )
    if r["frame rear"] <= r["frame front"]:
        problems.append("frame.rear: must lie behind frame.front")
    if r["body front"] < cab_back:
        problems.append(
            f"body.front: {r['body front']:.3g} m lies ahead of the cab's back at {cab_back:.3g} m; move it rearward"
        )
    cab = layout.file.cab
    if layout.station(cab.rear_mounts) <= layout.station(cab.front_mounts):
        problems.append("cab.rear_mounts: must lie behind cab.front_mounts")
    if layout.file.body.roof <= layout.file.body.floor:
        problems.append("body.roof: must be above body.floor")
    return problems


def _on_the_frame(layout: Layout) -> list[str]:
    start, end = layout.references["frame front"], layout.references["frame rear"]
    file = layout.file
    places: dict[str, float] = {}
    for name, axle in file.axle.items():
        if axle.bogie is None:
            at = layout.station(axle.at)
            places[f"axle.{name}: front spring hanger"] = at - 0.5 * axle.spring_length
            places[f"axle.{name}: rear spring hanger"] = at + 0.5 * axle.spring_length
    for name, bogie in file.bogie.items():
        places[f"bogie.{name}.trunnion"] = layout.station(bogie.trunnion)
    places["cab.front_mounts"] = layout.station(file.cab.front_mounts)
    places["cab.rear_mounts"] = layout.station(file.cab.rear_mounts)
    for name, station in layout.mount_stations().items():
        places[f"mounts.{file.mount}: {name}"] = station
    for tank in file.tank:
        for i, station in enumerate(layout.bracket_stations(tank)):
            places[f"tank.{tank}: bracket {i + 1}"] = station
    return [
        f"{what} at {station:.3g} m behind the front axle is off the frame, which reaches from {start:.3g} m to "
        f"{end:.3g} m; move it or lengthen the frame"
        for what, station in places.items()
        if not start <= station <= end
    ]


def _mount(layout: Layout) -> list[str]:
    supports, stations = layout.supports(), layout.mount_stations()
    key = f"mounts.{layout.file.mount}"
    problems = []
    front, rear = layout.references["body front"], layout.references["body rear"]
    for name, station in stations.items():
        if not front - 1e-9 <= station <= rear + 1e-9:
            problems.append(
                f"{key}: {name} at {station:.3g} m is not under the body, which reaches from {front:.3g} m to "
                f"{rear:.3g} m"
            )
    base = max(stations.values()) - min(stations.values())
    if base < LEAST_MOUNT_BASE:
        problems.append(
            f"{key}: {' and '.join(stations)} stand within {base:.3g} m; a body held at one station would fall over, "
            f"allowed is at least {LEAST_MOUNT_BASE} m: spread them along the body"
        )
    mounting = layout.file.mounting_frame
    if mounting is not None:
        if any(support.pivot for support in supports.values()):
            problems.append(
                f"mounting_frame: found with a {layout.file.mount} mount; allowed with rigid and sprung mounts, "
                "elsewhere it is part of the body"
            )
        start, end = layout.station(mounting.front), layout.station(mounting.rear)
        carriers = {f"carrier {i + 1}": layout.station(p) for i, p in enumerate(mounting.carriers)}
        problems += [
            f"mounting_frame: {name} at {station:.3g} m is off it; it reaches from {start:.3g} m to {end:.3g} m"
            for name, station in {**stations, **carriers}.items()
            if not start <= station <= end
        ]
    for name, support in supports.items():
        hold = support.hold_down
        if hold is not None and hold.spring_rate > hold.contact_stiffness:
            problems.append(f"{key}.spring_rate: must be below contact_stiffness at {name}")
    return problems


def warn_of_implausible(
    layout: Layout, wheel_loads: Mapping[str, float], masses: Sequence[PointMass]
) -> list[str]:
    """Warnings about a vehicle that can be but may not be meant.

    Parameters
    ----------
    layout : Layout
    wheel_loads : mapping of wheel name to N
        With the laden truck level.
    masses : sequence of PointMass

    Returns
    -------
    list of str
    """
    warnings = []
    loads = list(wheel_loads.values())
    total = sum(loads)
    for i, (name, axle) in enumerate(layout.file.axle.items()):
        load = (loads[2 * i] + loads[2 * i + 1]) / GRAVITY
        if load > axle.permitted_load:
            warnings.append(
                f"axle {name} carries {load:.0f} kg laden, {load - axle.permitted_load:.0f} kg more than the "
                f"permitted {axle.permitted_load:.0f} kg: move or lighten the load"
            )
        if load * GRAVITY < 0.15 * total:
            warnings.append(
                f"axle {name} carries only {100 * load * GRAVITY / total:.0f} % of the laden mass: is the body "
                "placed right?"
            )
        left, right = loads[2 * i], loads[2 * i + 1]
        if abs(left - right) > 0.1 * (left + right):
            warnings.append(
                f"axle {name} carries {left / 1e3:.1f} kN left and {right / 1e3:.1f} kN right: check lateral positions"
            )
    height = sum(mass.mass * mass.z for mass in masses) / sum(mass.mass for mass in masses)
    track = min(axle.wheel_track for axle in layout.file.axle.values())
    if height > 0.75 * track:
        warnings.append(
            f"the centre of mass stands {height:.2f} m high over a track of {track:.2f} m (static stability factor "
            f"{0.5 * track / height:.2f}): check heights, or expect it to tip early"
        )
    if sum(support.holds_both_rails for support in layout.supports().values()) > 2:
        warnings.append(
            "the mount forces of a rigid mount with three or more stations depend on its stiffness and on how the "
            "body is packed: read their level values as an estimate"
        )
    return warnings
