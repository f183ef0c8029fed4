"""Energy balance: what the ground does in twisting the truck is what springs, stops and weight have stored."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crossaxle.sim.ground_plane import GRAVITY, level_input
from crossaxle.sim.reduced import reduce
from tests.shortcuts import postures_along

MOUNTS = ["rigid", "pivoting", "sprung"]


def potential(structure, posture, heights):
    """Elastic and gravitational energy of a posture [J], from the structure alone."""
    q = posture.q
    h = structure.hinge_row @ q + structure.hinge_ground @ heights + structure.hinge_offset
    stiffness = structure.stiffness + GRAVITY * structure.geometric
    load = (
        structure.load_gravity.T @ [0, 0, -GRAVITY]
        + structure.load_ground.T @ heights
        + structure.load_constant
    )
    linear = 0.5 * q @ stiffness @ q - load @ q
    # The tyres' own energy of the ground's height: k z^2 / 2 per wheel, k from how a wheel's load answers to it.
    tyres = 0.5 * np.diag(structure.output_ground[: len(heights)]) @ heights**2
    return linear + tyres + 0.5 * structure.hinge_stiffness @ np.maximum(h, 0) ** 2


@pytest.mark.parametrize("mount", MOUNTS)
@settings(max_examples=6, deadline=None, derandomize=True)
@given(twist=st.floats(-0.9, 0.9))
def test_work_of_the_ground_is_stored(clinic, mount, twist):
    """Wheel loads times the ground's rise, summed in 400 steps (trapezoid: exact but for the steps with a kink)."""
    structure = clinic({"mount": mount}).structure
    model = reduce(structure)
    heights = np.outer(np.linspace(0, twist, 401), model.plane.warp[:, 0])
    level = level_input(4)
    inputs = [np.concatenate([level[:3], [w]]) for w in np.linspace(0, twist, 401)]
    postures = postures_along(model, inputs)
    assert {p.code for p in postures} == {0}
    loads = np.array([p.y[:4] for p in postures])
    work = float(np.sum(0.5 * (loads[1:] + loads[:-1]) * np.diff(heights, axis=0)))
    stored = potential(structure, postures[-1], heights[-1]) - potential(structure, postures[0], heights[0])
    assert work == pytest.approx(stored, abs=1e-4 * (1 + abs(stored)))


@pytest.mark.parametrize("mount", MOUNTS)
@settings(max_examples=15, deadline=None, derandomize=True)
@given(twist=st.floats(-0.9, 0.9), seed=st.integers(0, 1000))
def test_equilibrium_is_a_minimum_of_energy(clinic, mount, twist, seed):
    structure = clinic({"mount": mount}).structure
    model = reduce(structure)
    heights = twist * model.plane.warp[:, 0]
    posture = postures_along(model, [np.concatenate([level_input(4)[:3], [twist]])])[0]
    here = potential(structure, posture, heights)
    rng = np.random.default_rng(seed)
    for _ in range(5):
        aside = posture.q + 1e-3 * rng.normal(size=posture.q.size)
        moved = type(posture)(posture.code, posture.u, aside, posture.y, posture.force, posture.active, 0)
        assert potential(structure, moved, heights) > here
