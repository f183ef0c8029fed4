"""Statics of rigid bodies: what the elastic truck must come to where it is determinate or stiff.

Static stability factor T/(2h) and tilt angle atan(T/(2h)): NHTSA, rollover resistance ratings (definition recalled).
Reactions of a body on three supports and the single warp of four wheel heights: any text on statics.
"""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from tests.shortcuts import posture_on
from tests.stiff import CENTRED, STIFF_BLOCK


def test_three_point_reactions_by_statics(clinic, checked):
    vehicle = clinic({"mount": "pivoting"})
    posture = posture_on(reduce(vehicle.structure), [0, 0, 0, 0])
    named = zip(vehicle.structure.outputs, posture.y, strict=True)
    values = {(o.quantity, o.item, o.place): y for o, y in named}
    carried = [m for m in vehicle.masses if m.carried_by == "body"]
    mass = sum(m.mass for m in carried)
    centre = sum(m.mass * m.station for m in carried) / mass
    pair, pivot = vehicle.layout.mount_stations()["pair"], vehicle.layout.mount_stations()["pivot"]
    weight = mass * 9.80665
    on_pivot = values["mount_force", "pivot", ""]
    expected = weight * (pair - centre) / (pair - pivot)
    assert on_pivot == pytest.approx(expected, rel=1e-9)
    checked("load on the pivot of a three-point mount", "statics", abs(on_pivot / expected - 1))
    assert on_pivot + sum(values["mount_force", f"pair {s}", ""] for s in ("left", "right")) == pytest.approx(
        weight
    )


def test_tyre_load_matrix_of_two_axles_has_rank_one(clinic):
    """Without gravity's stiffness, four absolute heights load the tyres only through their warp."""
    structure = clinic({"mount": "pivoting"}).structure
    solved = np.linalg.solve(structure.stiffness, structure.load_ground.T)
    matrix = structure.output_row[:4] @ solved + structure.output_ground[:4]
    values = np.linalg.svd(matrix, compute_uv=False)
    assert values[1] < 1e-9 * values[0]


def test_tilt_angle_of_a_stiff_truck_is_that_of_a_block(clinic):
    """atan(T / 2h): static stability factor, NHTSA rollover rating; a stiff truck on stiff tyres comes up to it."""
    stiff = {**STIFF_BLOCK, **CENTRED}
    for axle in ("front", "rear"):
        stiff[f"axle.{axle}.spring_rate"] = "1e4 kN/mm"
        stiff[f"axle.{axle}.tyre.stiffness"] = "1e4 kN/mm"
        stiff[f"axle.{axle}.helper_rate" if axle == "rear" else f"axle.{axle}.anti_roll"] = (
            "1 N/mm" if axle == "rear" else "1 N*m/rad"
        )
    vehicle = clinic(stiff)
    height = sum(m.mass * m.z for m in vehicle.masses) / vehicle.mass
    threshold = 2.05 / 2 / height

    def margin(slope):
        model = reduce(vehicle.structure, 9.80665 * np.cos(np.arctan(slope)))
        y = posture_on(model, np.zeros(4), 0.0, slope).y
        places = [o.place for o in vehicle.structure.outputs if o.quantity == "tip_margin"]
        first = len(vehicle.structure.outputs) - len(places)
        return min(y[first:])

    assert margin(0.99 * threshold) > 0
    assert margin(0.99 * threshold) < 0.03
