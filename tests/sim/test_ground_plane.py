"""Gravity and ground seen from the mean plane, against vectors in space and a general least-squares solution."""

import numpy as np
import pytest

from crossaxle.sim.ground_plane import GRAVITY, ground_plane, input_vector

X = np.array([0.0, 0.0, -4.2, -4.2, -5.6, -5.6])  # forward
Y = np.array([1.0, -1.0, 0.9, -0.9, 0.9, -0.9])


@pytest.mark.parametrize(("grade", "side"), [(0.3, 0.0), (0.0, -0.4), (0.25, 0.4), (-0.5, 0.35)])
def test_gravity_is_the_vertical_in_the_axes_of_the_plane(grade, side):
    """Axes: forward along the plane, its normal, and the left at right angles to both."""
    forward = np.array([1.0, 0.0, grade])
    normal = np.array([-grade, -side, 1.0])
    forward, normal = forward / np.linalg.norm(forward), normal / np.linalg.norm(normal)
    left = np.cross(normal, forward)
    down = np.array([0.0, 0.0, -GRAVITY])
    plane = ground_plane(-X, Y)
    for u in (input_vector(plane, np.zeros(6), grade, side), input_vector(plane, grade * X + side * Y)):
        assert u[:3] == pytest.approx([down @ forward, down @ left, down @ normal], rel=1e-12, abs=1e-12)
        assert u[3:] == pytest.approx(np.zeros(3), abs=1e-12)


def test_warp_is_the_distance_out_of_the_plane():
    """Wheels' ground off the least-squares plane, measured at right angles to it."""
    z = np.random.default_rng(3).normal(0.0, 0.3, 6)
    terms = np.column_stack([np.ones(6), X, Y])
    fit = np.linalg.lstsq(terms, z, rcond=None)[0]
    away = (z - terms @ fit) / np.sqrt(1 + fit[1] ** 2 + fit[2] ** 2)
    plane = ground_plane(-X, Y)
    assert plane.warp @ input_vector(plane, z)[3:] == pytest.approx(away, abs=1e-12)
