"""Test vehicles written directly as structures: simple elastic trucks, and random structures of no meaning.

The truck has beam axles (heave, roll), a ladder frame that is rigid but for twist between its axles, and a
stiff body on mounts. It is the smallest vehicle that unloads wheels, hits stops, lifts mounts and tips.
"""

from dataclasses import dataclass, field

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.structure import Output, Structure

GRAVITY = 9.80665


@dataclass
class Builder:
    """Collects springs and masses on named degrees of freedom and turns them into a structure."""

    dofs: list[str]
    n_wheels: int
    springs: list[tuple[Array, float, Array, float]] = field(default_factory=list)
    hinges: list[tuple[str, Array, Array, float, float]] = field(default_factory=list)
    outputs: list[tuple[Output, Array, Array, Array, dict[str, float], float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        n = len(self.dofs)
        self.geometric = np.zeros((n, n))
        self.load_gravity = np.zeros((3, n))

    def row(self, **parts: float) -> Array:
        row = np.zeros(len(self.dofs))
        for name, value in parts.items():
            row[self.dofs.index(name)] += value
        return row

    def ground(self, wheel: int | None = None, value: float = 1.0) -> Array:
        ground = np.zeros(self.n_wheels)
        if wheel is not None:
            ground[wheel] = value
        return ground

    def mass(self, mass: float, up: Array, along: Array, across: Array) -> None:
        """A mass that moves by ``up`` . q vertically, by ``along`` and ``across`` horizontally."""
        self.load_gravity += mass * np.vstack([along, across, up])

    def lean(self, stiffness: float, row: Array) -> None:
        """Energy -stiffness g_n (row q)^2/2."""
        self.geometric -= stiffness * np.outer(row, row)

    def spring(self, row: Array, stiffness: float, ground: Array, offset: float = 0.0) -> None:
        self.springs.append((row, stiffness, ground, offset))

    def hinge(self, name: str, row: Array, ground: Array, offset: float, stiffness: float) -> None:
        self.hinges.append((name, row, ground, offset, stiffness))

    def output(
        self,
        output: Output,
        row: Array,
        ground: Array | None = None,
        gravity: tuple[float, float, float] = (0.0, 0.0, 0.0),
        hinges: dict[str, float] | None = None,
        constant: float = 0.0,
    ) -> None:
        ground = self.ground() if ground is None else ground
        self.outputs.append((output, row, ground, np.array(gravity), hinges or {}, constant))

    def build(self, wheel_station: Array, wheel_y: Array) -> Structure:
        n, w = len(self.dofs), self.n_wheels
        stiffness, load_ground, load_constant = np.zeros((n, n)), np.zeros((w, n)), np.zeros(n)
        for row, k, ground, offset in self.springs:
            stiffness += k * np.outer(row, row)
            load_ground -= k * np.outer(ground, row)
            load_constant -= k * offset * row
        hinges = sorted(self.hinges, key=lambda hinge: hinge[4] < 0.0)
        names = [hinge[0] for hinge in hinges]
        output_hinge = np.zeros((len(self.outputs), len(hinges)))
        for i, (_, _, _, _, shares, _) in enumerate(self.outputs):
            for name, share in shares.items():
                output_hinge[i, names.index(name)] += share
        return Structure(
            stiffness=stiffness,
            geometric=self.geometric,
            load_gravity=self.load_gravity,
            load_ground=load_ground,
            load_constant=load_constant,
            hinge_row=np.array([h[1] for h in hinges]).reshape(-1, n),
            hinge_ground=np.array([h[2] for h in hinges]).reshape(-1, w),
            hinge_offset=np.array([h[3] for h in hinges]),
            hinge_stiffness=np.array([h[4] for h in hinges]),
            output_row=np.array([o[1] for o in self.outputs]),
            output_ground=np.array([o[2] for o in self.outputs]),
            output_gravity=np.array([o[3] for o in self.outputs]),
            output_hinge=output_hinge,
            output_constant=np.array([o[5] for o in self.outputs]),
            wheel_station=wheel_station,
            wheel_y=wheel_y,
            outputs=tuple(o[0] for o in self.outputs),
            hinge_names=tuple(names),
            dof_names=tuple(self.dofs),
        )


def truck(
    stations: tuple[float, ...] = (0.0, 4.4),
    track: float = 2.05,
    stops: bool = False,
    sprung: bool = False,
    frame_stiffness: float = 80e3,
    body_mass: float = 6000.0,
    body_height: float = 2.0,
    body_offset: float = 0.0,
    rear_bias: float = 0.55,
    all_outputs: bool = False,
) -> Structure:
    """An elastic truck with one axle at each of ``stations`` [m]; ``frame_stiffness`` [N m/rad] over its
    length.

    ``stops``: bump and rebound stops on every spring. ``sprung``: one-sided preloaded mounts behind a fixed
    pair. ``all_outputs``: also mount forces, three sections of body torque and the tip margins.
    """
    count = len(stations)
    length = stations[-1]
    axles = range(count)
    dofs = [f"axle{a}_{m}" for a in axles for m in ("heave", "roll")]
    dofs += ["frame_heave", "frame_pitch", *[f"frame_roll{a}" for a in axles]]
    dofs += ["body_heave", "body_pitch", "body_roll", "body_twist"]
    b = Builder(dofs, 2 * count)
    none = b.ground()
    radius, frame_height, spring_half, tyre = 0.6, 1.0, 0.48, 850e3
    spring_rates = [260e3] + [420e3] * (count - 1)
    axle_mass, chassis_mass = 750.0, 3600.0

    def frame(station: float, y: float) -> Array:
        """Vertical displacement of the frame at (station, y); x is measured forward from the front axle."""
        row = b.row(frame_heave=1.0, frame_pitch=station)
        position = np.interp(station, stations, np.arange(count))
        first = min(int(position), count - 2)
        share = position - first
        return row + y * b.row(**{f"frame_roll{first}": 1.0 - share, f"frame_roll{first + 1}": share})

    def body(station: float, y: float) -> Array:
        twist = station / length - 0.5
        return b.row(body_heave=1.0, body_pitch=station, body_roll=y, body_twist=y * twist)

    for a, station in enumerate(stations):
        heave, roll = f"axle{a}_heave", f"axle{a}_roll"
        b.mass(axle_mass, b.row(**{heave: 1.0}), b.row(), b.row(**{roll: -radius}))
        b.lean(axle_mass * radius, b.row(**{roll: 1.0}))
        for side, y in (("left", 1.0), ("right", -1.0)):
            wheel = 2 * a + (y < 0)
            up = b.row(**{heave: 1.0, roll: y * track / 2})
            b.spring(-up, tyre, b.ground(wheel))
            b.hinge(f"tyre {a} {side}", up, b.ground(wheel, -1.0), 0.0, -tyre)
            wheel_output = Output("wheel_load", f"axle {a + 1} {side}", "N")
            b.output(wheel_output, -tyre * up, b.ground(wheel, tyre), hinges={f"tyre {a} {side}": -1.0})
            compression = b.row(**{heave: 1.0, roll: y * spring_half}) - frame(station, y * spring_half)
            b.spring(compression, spring_rates[a], none)
            if stops:
                load = (chassis_mass + body_mass) * GRAVITY / (2 * count)
                static = load / spring_rates[a]
                b.hinge(f"bump {a} {side}", compression, none, -(static + 0.07), 2e6)
                b.hinge(f"rebound {a} {side}", -compression, none, static - 0.08, 1.5e6)
    for a in axles[:-1]:
        share = (stations[a + 1] - stations[a]) / length
        b.spring(b.row(**{f"frame_roll{a}": 1.0, f"frame_roll{a + 1}": -1.0}), frame_stiffness / share, none)

    _place(
        b, chassis_mass, 0.35 * length, frame_height, frame(0.35 * length, 0.0), "frame_pitch", "frame_roll0"
    )
    _place(
        b,
        body_mass,
        rear_bias * length,
        body_height,
        body(rear_bias * length, body_offset),
        "body_pitch",
        "body_roll",
    )
    b.spring(b.row(body_twist=1.0), 3e6, none)
    mounts = [(0.25 * length, 0.4), (0.25 * length, -0.4), (0.95 * length, 0.4), (0.95 * length, -0.4)]
    for i, (station, y) in enumerate(mounts):
        squeeze = frame(station, y) - body(station, y)
        name = f"mount {i + 1}"
        shares = {}
        b.spring(squeeze, 8e6, none)
        if sprung and i < 2:
            b.hinge(name, -squeeze, none, -4e3 / 8e6, -(8e6 - 150e3))
            shares = {name: -1.0}
        if all_outputs:
            b.output(Output("mount_force", name, "N"), 8e6 * squeeze, hinges=shares)

    gaps = ((0.2, 0.9, 1.0), (0.2, -0.9, 1.0), (0.9, 0.9, 1.0), (0.9, -0.9, 1.0), (0.5, 0.0, 1.0))
    for i, (share, y, sign) in enumerate(gaps):
        row = sign * (body(share * length, y) - frame(share * length, y))
        b.output(Output("gap", f"gap {i + 1}", "m"), row, constant=0.02 + 0.01 * i)
    twist = b.row(**{"frame_roll0": 1.0, f"frame_roll{count - 1}": -1.0})
    for i, share in enumerate((0.6, 0.4)):
        roll = b.row(frame_pitch=2e8 * share)
        b.output(Output("bracket_stress", f"bracket {i + 1}", "Pa"), 4e8 * share * twist + roll, constant=3e7)
    b.output(Output("frame_twist", "", "rad"), twist)
    if all_outputs:
        for i, share in enumerate((0.3, 0.6, 0.9)):
            b.output(Output("body_torque", f"section {i + 1}", "N m"), b.row(body_twist=3e6 * share))
        b.output(Output("body_roll", "", "rad"), b.row(body_roll=1.0))
        weight = GRAVITY * (chassis_mass + body_mass + count * axle_mass)
        for side in (0, 1):
            row, ground, shares = b.row(), b.ground(), {}
            for a in axles:
                _, wheel_row, wheel_ground, _, wheel_shares, _ = b.outputs[_wheel(b, 2 * a + side)]
                row, ground = row + wheel_row / weight, ground + wheel_ground / weight
                shares |= {name: share / weight for name, share in wheel_shares.items()}
            b.output(Output("tip_margin", ("left", "right")[side], "1"), row, ground, hinges=shares)
    order = sorted(range(len(b.outputs)), key=lambda i: b.outputs[i][0].quantity != "wheel_load")
    b.outputs = [b.outputs[i] for i in order]
    return b.build(np.repeat(stations, 2), np.tile([track / 2, -track / 2], count))


def _wheel(b: Builder, wheel: int) -> int:
    return [i for i, output in enumerate(b.outputs) if output[0].quantity == "wheel_load"][wheel]


def _place(b: Builder, mass: float, station: float, height: float, up: Array, pitch: str, roll: str) -> None:
    b.mass(mass, up, b.row(**{pitch: height}), b.row(**{roll: -height}))
    b.lean(mass * height, b.row(**{pitch: 1.0}))
    b.lean(mass * height, b.row(**{roll: 1.0}))


def random_structure(
    rng: np.random.Generator,
    n_axles: int = 2,
    n_dofs: int = 9,
    n_positive: int = 5,
    n_negative: int = 5,
    convex: bool = True,
) -> Structure:
    """Random springs on random combinations; ``convex``: stable even with every negative hinge passed.

    Without ``convex`` the vehicle is stable only on its reference segments, so some inputs have no posture.
    """
    w, m, k = 2 * n_axles, n_positive + n_negative, 2 * n_axles + 6
    rows = rng.normal(size=(m, n_dofs))
    ground = rng.normal(size=(m, w))
    kappa = np.concatenate([rng.uniform(0.2, 20.0, n_positive), -rng.uniform(0.2, 3.0, n_negative)])
    base = rng.normal(size=(n_dofs, n_dofs))
    base = base @ base.T / n_dofs + 0.3 * np.eye(n_dofs)
    lost = rows[n_positive:].T @ np.diag(-kappa[n_positive:]) @ rows[n_positive:]
    stiffness = base + lost
    if not convex:
        # take away almost everything that remains when all negative hinges are passed, and a little more
        values, vectors = np.linalg.eigh(stiffness)
        stiffness = vectors @ np.diag(values) @ vectors.T - 0.97 * values[0] * np.eye(n_dofs)
        lift = np.linalg.eigvalsh(stiffness)[0]
        stiffness += max(0.0, 0.05 - lift) * np.eye(n_dofs)
    y = np.tile([1.0, -1.0], n_axles)
    return Structure(
        stiffness=0.5 * (stiffness + stiffness.T),
        geometric=-1e-3 * np.eye(n_dofs),
        load_gravity=rng.normal(size=(3, n_dofs)) * 0.1,
        load_ground=rng.normal(size=(w, n_dofs)),
        load_constant=rng.normal(size=n_dofs) * 0.1,
        hinge_row=rows,
        hinge_ground=ground,
        hinge_offset=-rng.uniform(0.1, 2.0, m),
        hinge_stiffness=kappa,
        output_row=rng.normal(size=(k, n_dofs)),
        output_ground=rng.normal(size=(k, w)),
        output_gravity=rng.normal(size=(k, 3)),
        output_hinge=rng.normal(size=(k, m)),
        output_constant=rng.normal(size=k) + 60.0,
        wheel_station=np.repeat(np.linspace(0.0, 4.37, n_axles), 2),
        wheel_y=y,
        outputs=tuple(
            Output("wheel_load", f"wheel {i}", "N") if i < w else Output("gap", f"gap {i - w}", "m")
            for i in range(k)
        ),
        hinge_names=tuple(f"hinge {i}" for i in range(m)),
        dof_names=tuple(f"dof {i}" for i in range(n_dofs)),
    )
