"""Ladder frames in flat shells, and their torsional stiffness. Run by hand: python -m tests.reference.shell_ladder

Mid-surfaces of sharp-cornered channel rails with cross-members of three makes: channels as deep as the rails whose flanges lie
bonded on the rails' flanges (both sheets in one plane, thicknesses added), channels that end on the rail's web, and
square tubes that end on it. x forward, y left, z up; station = -x. Twist is antisymmetric about the plane y = 0, so the left half is
modelled, with x and z displacements and the rotation about y held in that plane.
"""

from dataclasses import dataclass

import numpy as np

from tests.reference.flat_shell import Mesh


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
    parts = [
        np.linspace(a, b, int(np.ceil((b - a) / step - 1e-6)) + 1)[:-1] for a, b in zip(points, points[1:])
    ]
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
    for s, (front, rear) in zip(ladder.stations, spans):
        for z in (-h / 2, h / 2):
            mesh.rectangle(
                forward, left, within(along, front, rear), inner if on_flange else across, tc, (0, 0, z)
            )
        for web in (front, rear) if ladder.make.startswith("tubes") else (s,):
            mesh.rectangle(left, up, across, upright, tc, (-web, 0, 0))
    return mesh


def torsional_stiffness(ladder, step):
    """Torque of vertical forces on the webs at station 0 and at the base over the roll between them [N m/rad]."""
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
    deflection = row @ mesh.solve(fixed, row).ravel()
    return ladder.spacing**2 / (2 * deflection)


if __name__ == "__main__":
    for name, ladder in LADDERS.items():
        values = [torsional_stiffness(ladder, step) * np.pi / 180 for step in (0.03, 0.02, 0.0125)]
        print(
            f"{name:28s}", *(f"{value:8.1f}" for value in values), "N m/deg with elements of 30, 20, 12.5 mm"
        )
