"""A spring with a falling stretch, solved by hand: the path turns back on it and comes out beyond, or tips."""

import numpy as np
import pytest

from crossaxle.sim.codes import GOOD, TIPPED
from crossaxle.sim.ground_plane import ground_plane
from crossaxle.sim.posture import solve_posture
from crossaxle.sim.reduced import ReducedModel

STATIONS, SIDES = np.array([0.0, 0.0, 4.0, 4.0]), np.array([1.0, -1.0, 1.0, -1.0])


def bistable(second_kink: float) -> ReducedModel:
    """F(q) = q up to 1, 2 - q up to ``second_kink``, rising with 2 from there; the load is the warp less 1.

    The hinge that stiffens comes first, as in every reduced model.
    """
    inputs = np.zeros((2, 4))
    inputs[:, 3] = 1.0
    return ReducedModel(
        normal_gravity=9.8,
        hinge_constant=np.array([-1.0 - second_kink, -2.0]),
        hinge_input=inputs,
        hinge_compliance=np.ones((2, 2)),
        hinge_stiffness=np.array([3.0, -2.0]),
        output_constant=np.array([-1.0]),
        output_input=inputs[:1],
        output_hinge=-np.ones((1, 2)),
        dof_constant=np.array([-1.0]),
        dof_input=inputs[:1],
        dof_hinge=-np.ones((1, 2)),
        plane=ground_plane(STATIONS, SIDES),
        wheel_station=STATIONS,
        wheel_y=SIDES,
        outputs=(),
        hinge_names=("rises", "falls"),
        dof_names=("q",),
    )


def at_load(load: float) -> np.ndarray:
    return np.array([0.0, 0.0, -9.8, load + 1.0])


@pytest.mark.parametrize(("load", "place"), [(-0.5, -0.5), (0.9, 0.9), (1.1, 2.55), (1.5, 2.75)])
def test_from_below_it_snaps_through_where_the_load_passes_the_crest(load: float, place: float) -> None:
    posture = solve_posture(bistable(2.0), at_load(load))
    assert posture.code == GOOD
    assert posture.q[0] == pytest.approx(place, abs=1e-12)


@pytest.mark.parametrize(("load", "place"), [(0.5, 2.25), (0.1, 2.05), (-0.5, -0.5)])
def test_from_beyond_it_stays_until_the_load_falls_below_the_trough(load: float, place: float) -> None:
    model = bistable(2.0)
    beyond = solve_posture(model, at_load(1.5))
    posture = solve_posture(model, at_load(load), beyond)
    assert posture.code == GOOD
    assert posture.q[0] == pytest.approx(place, abs=1e-12)


def test_a_path_that_would_have_to_turn_back_beyond_its_start_is_tipped() -> None:
    """The trough lies below the load at which the path set out: nothing joins the two stable stretches."""
    assert solve_posture(bistable(5.0), at_load(1.5)).code == TIPPED
