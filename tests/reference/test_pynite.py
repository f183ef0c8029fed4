"""Ladder frames without warping against PyNite (D. C. Brinck, from its metadata), a general frame solver in space.

PyNite's members have Euler-Bernoulli bending and Saint-Venant torsion, no shear flexibility, no warping and
no shear-centre offset; the ladders here have none of them either. Its axes are X forward, Y up, Z right;
station = -X, y = -Z, so that w = DY, theta = RX, psi = -RZ. Both solve the same linear equations by other
means: 1e-6 of the largest displacement.
"""

from itertools import pairwise

import numpy as np
import pytest

pytest.importorskip("Pynite")

from Pynite import FEModel3D

from crossaxle.vehicles.frame import CrossMember, Joint, RailSpan, ladder_frame, torsional_stiffness
from crossaxle.vehicles.sections import Section

pytestmark = pytest.mark.filterwarnings("ignore")
YOUNG, SHEAR = 2.1e11, 8.08e10
SIDES = ("left", "right")
SUPPORTS = (("left", 0), ("right", 0), ("left", -1))
"""Rail and cross-member (first, last) held vertically: a determinate stand."""


def section(rng):
    return Section(rng.uniform(1e-3, 4e-3), rng.uniform(1e-6, 4e-5), rng.uniform(3e-8, 6e-6), 1e-4)


class Case:
    """A random ladder in both programs, and the loads (side, station, force, moment about x, moment about y)."""

    def __init__(self, seed, joint):
        rng = np.random.default_rng(seed)
        self.stations = np.cumsum(rng.uniform(0.4, 1.3, rng.integers(3, 8))) - 2.0
        self.spacing = rng.uniform(0.7, 1.1)
        self.change = rng.uniform(self.stations[0] + 0.1, self.stations[-1] - 0.1)
        self.change = float(
            self.change if np.abs(self.stations - self.change).min() > 0.05 else self.stations[1]
        )
        self.rails = section(rng), section(rng)
        self.crosses = [section(rng) for _ in self.stations]
        # Rails on hinges alone would spin about their own axes, so the first cross-member is always rigid.
        self.joints = [Joint(), *[joint] * (len(self.stations) - 1)]
        free = rng.uniform(self.stations[0], self.stations[-1], 3)
        self.places = sorted([*self.stations.tolist(), *free.tolist()])
        self.loads = [
            (side, float(s), *(rng.normal(size=3) * (1e4, 1e3, 1e3))) for side in SIDES for s in self.stations
        ]

    def own(self):
        """Deflection, twist and slope at every place of both rails."""
        first, last = float(self.stations[0]), float(self.stations[-1])
        frame = ladder_frame(
            [RailSpan(first, self.change, self.rails[0]), RailSpan(self.change, last, self.rails[1])],
            [
                CrossMember(float(s), *rest)
                for s, *rest in zip(self.stations, self.crosses, self.joints, strict=True)
            ],
            self.spacing,
            YOUNG,
            SHEAR,
        )
        load = sum(
            f * frame.deflection_row(side, s) + mx * frame.twist_row(side, s) + my * frame.slope_row(side, s)
            for side, s, f, mx, my in self.loads
        )
        hold = np.array([frame.deflection_row(side, float(self.stations[i])) for side, i in SUPPORTS])
        n = len(load)
        system = np.block([[frame.stiffness, hold.T * 1e6], [hold * 1e6, np.zeros((3, 3))]])
        q = np.linalg.solve(system, np.concatenate([load, np.zeros(3)]))[:n]
        rows = [
            row(side, s)
            for side in SIDES
            for s in self.places
            for row in (frame.deflection_row, frame.twist_row, frame.slope_row)
        ]
        return np.array(rows) @ q, frame

    def pynite(self):
        """The same numbers from PyNite."""
        model = FEModel3D()
        model.add_material("steel", YOUNG, SHEAR, 0.3, 7850.0)
        marks = sorted({*self.places, self.change})
        for which, y in zip(SIDES, (self.spacing / 2, -self.spacing / 2), strict=True):
            for s in marks:
                model.add_node(f"{which} {s}", -s, 0, -y)
            for a, b in pairwise(marks):
                rail = self.rails[0] if b <= self.change else self.rails[1]
                self._member(model, f"{which} {a}", f"{which} {b}", rail)
        for s, cross, joint in zip(self.stations, self.crosses, self.joints, strict=True):
            name = self._member(model, f"left {s}", f"right {s}", cross)
            if joint.bending == 0:
                model.def_releases(name, Rzi=True, Rzj=True)
            if joint.torsion == 0:
                model.def_releases(name, Rxi=True)
        for side, i in SUPPORTS:
            model.def_support(f"{side} {self.stations[i]}", support_DY=True)
        # Motion within the frame's plane is another problem; hold it at one node.
        model.def_support(
            f"left {self.stations[0]}", support_DX=True, support_DY=True, support_DZ=True, support_RY=True
        )
        for side, s, f, mx, my in self.loads:
            for direction, value in (("FY", f), ("MX", mx), ("MZ", -my)):
                model.add_node_load(f"{side} {s}", direction, value)
        model.analyze_linear()
        values = []
        for side in SIDES:
            for s in self.places:
                node = model.nodes[f"{side} {s}"]
                values += [node.DY["Combo 1"], node.RX["Combo 1"], -node.RZ["Combo 1"]]
        return np.array(values)

    @staticmethod
    def _member(model, i, j, section):
        name = f"{i} to {j}"
        model.add_section(
            name, section.area, section.second_moment_y, section.second_moment_y, section.torsion_constant
        )
        model.add_member(name, i, j, "steel", name)
        return name


JOINTS = {
    "rigid": Joint(),
    "hinged in bending": Joint(bending=0.0),
    "hinged in torsion": Joint(torsion=0.0),
}


@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.parametrize("seed", range(4))
def test_random_ladder_under_random_loads(seed, joint, checked):
    """Forces and moments at all joints; deflection, twist and slope there and at three random points between."""
    case = Case(seed, JOINTS[joint])
    own, expected = case.own()[0], case.pynite()
    for kind in range(3):
        largest = np.abs(expected[kind::3]).max()
        np.testing.assert_allclose(own[kind::3], expected[kind::3], atol=1e-6 * largest, rtol=0)
        worst = np.abs(own[kind::3] - expected[kind::3]).max() / largest
        checked("displacements of random ladders without warping", "PyNite", worst)


@pytest.mark.parametrize("load", ["couple in twist", "bending", "one corner"])
def test_plain_load_cases(load):
    """Twist couple, four-point bending and one pushed corner of one ladder."""
    case = Case(11, Joint())
    first, second, last = (float(case.stations[i]) for i in (0, 1, -1))
    case.loads = {
        "couple in twist": [("right", last, 1e4, 0, 0)],
        "bending": [(side, second, -1e4, 0, 0) for side in SIDES],
        "one corner": [
            ("left", second, 1e4, 0, 0),
            ("right", last, 0, 500.0, -300.0),
            ("right", first, 0, 0, 200.0),
        ],
    }[load]
    own, expected = case.own()[0], case.pynite()
    for kind in range(3):
        largest = np.abs(expected[kind::3]).max()
        np.testing.assert_allclose(own[kind::3], expected[kind::3], atol=1e-6 * largest, rtol=0)


def test_torsional_stiffness_is_that_of_the_twist_couple():
    """Held at three corners and pushed at the fourth: the twist is the corner's deflection over b, the torque F b."""
    case = Case(3, Joint())
    first, last = float(case.stations[0]), float(case.stations[-1])
    case.loads = [("right", last, 1e4, 0.0, 0.0)]
    expected = case.pynite()
    place = len(case.places) + case.places.index(last)
    stiffness = 1e4 * case.spacing / (expected[3 * place] / case.spacing)
    assert torsional_stiffness(case.own()[1], first, last) == pytest.approx(stiffness, rel=1e-6)
