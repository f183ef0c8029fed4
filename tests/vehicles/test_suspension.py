"""Springs, stops, anti-roll bars and equalised pairs."""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from crossaxle.studies.inputs.reader import read
from crossaxle.vehicles.assemble import assemble
from crossaxle.vehicles.file import TyreEntry, VehicleFile
from crossaxle.vehicles.suspension import leaves
from crossaxle.vehicles.tyres import tyre
from tests.conftest import LIBRARY
from tests.shortcuts import posture_on

STOPS_OFF = {
    f"axle.{axle}.{key}": "5 m" for axle in ("front", "rear") for key in ("bump_travel", "rebound_travel")
}


def loads(vehicle, heights):
    posture = posture_on(reduce(vehicle.structure), heights)
    assert posture.code == 0
    return posture.y[: len(heights)]


def test_helper_comes_in_at_its_travel_and_not_before(clinic):
    base = {"mount": "rigid", **STOPS_OFF}
    early = clinic({**base, "axle.rear.helper_from": "5 mm"})
    late = clinic({**base, "axle.rear.helper_from": "200 mm"})
    none = clinic({**base, "axle.rear.helper_rate": "0 N/mm"})
    high = [0.0, 0.3, 0.3, 0.0]
    assert loads(late, high) == pytest.approx(loads(none, high), rel=1e-12)
    assert loads(early, high)[2] > loads(none, high)[2] + 10
    low = [0.0, 0.0, 0.005, 0.0]
    assert loads(early, low) == pytest.approx(loads(none, low), rel=1e-12)


def test_a_helper_already_at_work_lets_go(clinic):
    """Engaged from 5 mm short of level, the rear spring is soft again on the dropped side."""
    base = {"mount": "rigid", **STOPS_OFF}
    engaged = clinic({**base, "axle.rear.helper_from": "-5 mm"})
    as_one = clinic({**base, "axle.rear.helper_rate": "0 N/mm", "axle.rear.spring_rate": "750 N/mm"})
    small = [0.0, 0.0, 0.005, 0.0]
    assert loads(engaged, small) == pytest.approx(loads(as_one, small), rel=1e-9)
    hole = [0.3, 0.0, -0.3, 0.0]
    assert loads(engaged, hole)[2] > loads(as_one, hole)[2]


def test_stops_hold_the_springs_travel(clinic):
    """Beyond bump and rebound travel a leaf moves only as far as the stop gives way under the load."""
    free, stopped = clinic({"mount": "pivoting", **STOPS_OFF}), clinic({"mount": "pivoting"})
    beyond = []
    for vehicle in (free, stopped):
        level, twisted = (
            posture_on(reduce(vehicle.structure), h).q for h in ([0, 0, 0, 0], [0, 0.8, 0.8, 0])
        )
        travels = [float(leaf.row @ (twisted - level)) for leaf in leaves(vehicle.kinematics)]
        beyond.append((max(travels), min(travels)))
    assert beyond[0][0] > beyond[1][0] > 0.09
    assert beyond[1][0] < 0.09 + 60e3 / 2.5e6  # the stop's rate under less than 60 kN


def test_anti_roll_bar_takes_load_from_the_other_axle(clinic):
    plain = loads(clinic({"mount": "rigid"}), [0.1, 0, 0, 0])
    barred = loads(clinic({"mount": "rigid", "axle.front.anti_roll": "3 kN*m/deg"}), [0.1, 0, 0, 0])
    assert barred[0] - barred[1] > plain[0] - plain[1]


@pytest.mark.parametrize("name", ["laboratory", "rescue"])
def test_equalised_pair_shares_load_alike(name):
    """One tyre of the pair on a step: both tyres of that side still carry nearly the same (statics of the balance)."""
    vehicle = assemble(read(LIBRARY / f"{name}.toml", VehicleFile))
    n = len(vehicle.structure.wheel_y)
    level = loads(vehicle, np.zeros(n))
    assert level.sum() == pytest.approx(vehicle.mass * 9.80665, rel=1e-9)
    assert level[-1] == pytest.approx(level[-3], rel=1e-6)
    step = np.zeros(n)
    step[-2] = 0.08
    raised = loads(vehicle, step)
    # What the pair does not balance is the leaf's own small rate and the axles' roll against the other side.
    assert abs(raised[-2] - raised[-4]) < 0.25 * level[-2]
    far = np.zeros(n)
    far[-2] = 0.6
    beyond = loads(vehicle, far)
    assert beyond[-4] == pytest.approx(
        0, abs=1e-6 * level[-2]
    )  # past the articulation stop its partner hangs


@pytest.mark.parametrize("up", ["front", "rear"])
def test_articulation_stops_hold_the_pair_alike_either_way(up):
    """Just short of the stops' travel nothing holds the pair; beyond, only the stop's own give is added."""
    vehicle = assemble(read(LIBRARY / "laboratory.toml", VehicleFile))
    model = reduce(vehicle.structure)
    (bogie,) = vehicle.file.bogie.values()
    front, rear = [name for name, axle in vehicle.file.axle.items() if axle.bogie]
    k, y = vehicle.kinematics, 0.5 * bogie.spring_track
    way = 1.0 if up == "front" else -1.0
    tilt = way * (k.height(f"axle {front}", 0.0, y) - k.height(f"axle {rear}", 0.0, y))
    tilts, forces = [], []
    for height in (0.1, 0.15, 0.4, 0.6):
        ground = np.zeros(model.n_wheels)
        ground[[-4, -3] if up == "front" else [-2, -1]] = height
        posture = posture_on(model, ground)
        assert posture.code == 0
        stop = vehicle.structure.hinge_names.index(
            f"articulation stop {next(iter(vehicle.file.bogie))} left {up} up"
        )
        tilts.append(float(tilt @ posture.q))
        forces.append(posture.force[stop])
    travel = bogie.articulation_travel
    for reached, force in zip(tilts, forces, strict=True):
        assert force == pytest.approx(
            max(0.0, bogie.articulation_rate * (reached - travel)), rel=1e-6, abs=1e-3
        )
    assert tilts[0] < travel < tilts[-1]


def test_tyre_of_a_size():
    """395/85R20: rim 508 mm and two sidewalls of 0.85 x 395 mm. Stiffness within the recalled range of its class."""
    road = tyre(TyreEntry.model_construct(size="395/85R20", pressure=7e5, stiffness=None, radius=None))
    soft = tyre(TyreEntry.model_construct(size="395/85R20", pressure=2e5, stiffness=None, radius=None))
    assert road.radius == pytest.approx(0.254 + 0.85 * 0.395)
    assert 700e3 < road.stiffness < 1200e3
    assert soft.stiffness < 0.5 * road.stiffness
    full = tyre(TyreEntry.model_construct(size="14.00R20", pressure=7e5, stiffness=None, radius=None))
    assert full.radius == pytest.approx(0.254 + 0.3556)


def test_unreadable_tyre_size_says_what_is_allowed(clinic):
    with pytest.raises(ValueError, match="395/85R20"):
        clinic({"axle.front.tyre.size": "big"})
