"""Ladder frames in flat shells, and their torsional stiffness. Run by hand: python -m tests.reference.shell_ladder

Mid-surfaces of sharp-cornered channel rails with cross-members of three makes: channels as deep as the rails
whose flanges lie bonded on the rails' flanges (both sheets in one plane, thicknesses added), channels that
end on the rail's web, and square tubes that end on it. x forward, y left, z up; station = -x. Twist is
antisymmetric about the plane y = 0, so the left half is modelled, with x and z displacements and the rotation
about y held in that plane.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.reference.flat_shell import YOUNG, Mesh


@dataclass(frozen=True)
class Ladder:
    """Mid-line dimensions [m]: rails, then the evenly spaced cross-members between the rails' ends."""

    make: str  # "flanges on flanges", "channels on the web" or "tubes on the web"
    member_flange: float
    member_thickness: float
    member_height: float = 0.263
    members: int = 9
    rail_height: float = 0.263
    rail_flange: float = 0.0715
    rail_thickness: float = 0.007
    spacing: float = 0.85
    base: float = 4.5
    overhang: float = 1.0

    @property
    def stations(self):
        return np.round(np.linspace(-self.overhang, self.base + self.overhang, self.members), 3)


LADDERS = {
    "flanges on flanges": Ladder("flanges on flanges", 0.067, 0.006),
    "five members": Ladder("flanges on flanges", 0.067, 0.006, members=5),
    "narrow and light": Ladder("flanges on flanges", 0.055, 0.005, member_height=0.214, members=7, rail_height=0.214,
                               rail_flange=0.062, rail_thickness=0.006, spacing=0.76),
    "channels on the web": Ladder("channels on the web", 0.067, 0.006, member_height=0.2),
    "five channels on the web": Ladder("channels on the web", 0.067, 0.006, member_height=0.2, members=5),
    "tubes": Ladder("tubes on the web", 0.094, 0.006, member_height=0.094),
    "slender tubes": Ladder("tubes on the web", 0.056, 0.004, member_height=0.056, members=6),
}  # fmt: skip


def lines(points, step):
    """Grid lines through all the points and at most a step apart."""
    points = sorted(set(np.round(points, 6)))
    parts = [np.linspace(a, b, int(np.ceil((b - a) / step - 1e-6)) + 1)[:-1] for a, b in pairwise(points)]
    return np.concatenate([*parts, [points[-1]]])


def within(values, low, high):
    return values[(values >= low - 1e-9) & (values <= high + 1e-9)]


def build(ladder, step):
    """Mesh of the left half."""
    mesh, half, H, B, t = (
        Mesh(),
        ladder.spacing / 2,
        ladder.rail_height,
        ladder.rail_flange,
        ladder.rail_thickness,
    )
    h, b, tc = ladder.member_height, ladder.member_flange, ladder.member_thickness
    forward, left, up = (-1, 0, 0), (0, 1, 0), (0, 0, 1)
    # The member's flanges reach rearwards from its web; the last one's forwards. A tube is centred.
    last = ladder.stations[-1]
    spans = [(s - b / 2, s + b / 2) if ladder.make.startswith("tubes") else (s - b, s) if s == last else (s, s + b)
             for s in ladder.stations]  # fmt: skip
    ends = [edge for span in spans for edge in span]
    along = lines([0, ladder.base, *ends], step)
    across = lines([0, half - B, half], step)
    height = lines([-H / 2, -h / 2, 0, h / 2, H / 2], min(step, H / 8))
    outer, inner = within(across, half - B, half), within(across, 0, half - B)
    mesh.rectangle(forward, up, along, height, t, (0, half, 0))
    on_flange = ladder.make.startswith("flanges")
    for z in (-H / 2, H / 2):
        for i in range(len(along) - 1):
            covered = on_flange and any(a - 1e-9 <= along[i] and along[i + 1] <= e + 1e-9 for a, e in spans)
            mesh.rectangle(forward, left, along[i : i + 2], outer, t + tc if covered else t, (0, 0, z))
    upright = within(height, -h / 2, h / 2)
    for s, (front, rear) in zip(ladder.stations, spans, strict=True):
        for z in (-h / 2, h / 2):
            mesh.rectangle(
                forward, left, within(along, front, rear), inner if on_flange else across, tc, (0, 0, z)
            )
        for web in (front, rear) if ladder.make.startswith("tubes") else (s,):
            mesh.rectangle(left, up, across, upright, tc, (-web, 0, 0))
    return mesh


def twisted(ladder, step):
    """Mesh, displacements (n_nodes, 6) and roll between station 0 and the base [rad] under a torque of 1 N m.

    Equal and opposite vertical forces on the webs at both stations; their sum is in balance, so that the
    three pins that stop lateral and yaw motion carry nothing.
    """
    mesh = build(ladder, step)
    points = mesh.points()
    middle = np.flatnonzero(np.abs(points[:, 1]) < 1e-9)
    pins = [mesh.node((0, ladder.spacing / 2, -ladder.rail_height / 2)),
            mesh.node((0, ladder.spacing / 2, ladder.rail_height / 2)),
            mesh.node((-ladder.base, ladder.spacing / 2, ladder.rail_height / 2))]  # fmt: skip
    fixed = np.concatenate([6 * middle, 6 * middle + 2, 6 * middle + 4, 6 * np.array(pins) + 1])
    row = np.zeros(6 * len(points))
    for station, sign in ((0.0, 1.0), (ladder.base, -1.0)):
        here = np.abs(points[:, :2] - [-station, ladder.spacing / 2]).max(axis=1) < 1e-6
        web = np.flatnonzero(here)[np.argsort(points[here, 2])]
        share = np.gradient(points[web, 2]) * np.where(
            np.isin(np.arange(len(web)), (0, len(web) - 1)), 0.5, 1
        )
        row[6 * web + 2] = sign * share / share.sum()
    motion = mesh.solve(fixed, row / ladder.spacing)
    return mesh, motion, 2 * (row @ motion.ravel()) / ladder.spacing


def torsional_stiffness(ladder, step):
    """Torque over the roll between station 0 and the base [N m/rad]."""
    return 1 / twisted(ladder, step)[2]


def lower_flange_stress(ladder, step, stations):
    """Stress along the left rail's lower flange at its edge and at the web corner per torque; (n, 2) [Pa/(N m)]."""
    mesh, motion, _ = twisted(ladder, step)
    points, half = mesh.points(), ladder.spacing / 2
    columns = []
    for y in (half - ladder.rail_flange, half):
        line = np.flatnonzero(
            (np.abs(points[:, 1] - y) < 1e-6) & (np.abs(points[:, 2] + ladder.rail_height / 2) < 1e-6)
        )
        line = line[np.argsort(-points[line, 0])]
        s = -points[line, 0]
        # Stress is E du/dx, and x runs against the station.
        stress = -YOUNG * np.diff(motion[line, 0]) / np.diff(s)
        columns.append(np.interp(stations, (s[1:] + s[:-1]) / 2, stress))
    return np.array(columns).T


STATIONS = (1.2, 1.6, 1.8, 2.1, 2.45)
"""Where stress is compared: between cross-members of the ladders with nine, 0.1 m or more from any."""


if __name__ == "__main__":
    for name, ladder in LADDERS.items():
        values = [torsional_stiffness(ladder, step) * np.pi / 180 for step in (0.03, 0.02, 0.0125)]
        print(f"{name:26s}", *(f"{value:8.1f}" for value in values), "N m/deg, elements of 30, 20, 12.5 mm")
        if ladder.members == 9:
            stress = np.round(lower_flange_stress(ladder, 0.0125, STATIONS))
            print("lower flange, edge and web corner at STATIONS:", stress.tolist(), "Pa/(N m)")
