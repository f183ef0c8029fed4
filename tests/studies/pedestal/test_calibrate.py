"""Calibration recovers the frame that made the readings, says how sure it is, and says when it cannot be."""

import math

import numpy as np
import pytest

from crossaxle.studies.inputs.reader import read
from crossaxle.studies.pedestal.calibration import calibrate
from crossaxle.studies.pedestal.pedestal_test import pedestal_test
from crossaxle.studies.pedestal.pedestal_view import describe_pedestal
from crossaxle.studies.pedestal.readings import Reading
from crossaxle.vehicles.file import VehicleFile
from tests.conftest import LIBRARY

UNDER = ("front right", "rear left")
ANGLE = math.radians(0.1)
LOAD = 200.0


@pytest.fixture(scope="module")
def file():
    return read(LIBRARY / "clinic.toml", VehicleFile)


@pytest.fixture(scope="module")
def shown(clinic):
    """What a bare chassis with a changed frame shows at some heights, level first; made once per change."""
    known = {}

    def of(heights, **factors):
        key = (tuple(heights), tuple(factors.items()))
        if key not in known:
            vehicle = clinic({f"frame.{name}": value for name, value in factors.items()}, bare=True)
            known[key] = describe_pedestal(pedestal_test(vehicle, UNDER, [0.0, *heights]))["postures"]
        return known[key]

    return of


def readings(postures, seed=None, noise=1.0, friction=0.0, angle=ANGLE):
    """Noisy readings of twist and two loads at every height but the first; with friction raising and lowering ones."""
    level, *rest = postures
    rng = np.random.default_rng(seed)
    exact = []
    for posture in rest:
        twist = math.radians(posture["frame_twist_deg"] - level["frame_twist_deg"])
        exact.append((posture["height_m"], "twist", "front axle to rear axle", twist, angle))
        for wheel in ("front left", "rear right"):
            load = posture["wheels"][wheel]["load_N"]
            exact.append((posture["height_m"], "wheel load", wheel, load, LOAD))
    found = []
    for way, direction in ((1, "raising"), (-1, "lowering")) if friction else ((0, ""),):
        for height, kind, of, value, spread in exact:
            error = noise * rng.standard_normal() if seed is not None else 0.0
            read_off = value + spread * (error + way * friction)
            found.append(Reading((len(found) + 2,), height, UNDER, kind, of, read_off, spread, direction))
    return found


def test_exact_readings_give_the_frame_back(file, shown):
    found = calibrate(file, readings(shown([0.1, 0.2, 0.3], stiffness_factor=0.7)), bare=True)
    (factor,) = found.factors
    assert factor.before == 1.0
    assert factor.value == pytest.approx(0.7, rel=1e-4)
    assert factor.low < 0.7 < factor.high
    assert found.scale == 1.0
    assert found.after == pytest.approx([r.value for r in found.readings], abs=2.0)
    assert found.frame_stiffness.value == pytest.approx(0.7 * found.frame_stiffness.before, rel=1e-4)
    assert found.file.frame.stiffness_factor == factor.value


def test_readings_from_a_wheel_that_has_come_free_are_used_too(file, shown):
    """Beyond first lift-off (0.36 m) twist no longer grows, and the fit knows."""
    found = calibrate(file, readings(shown([0.2, 0.45, 0.55], stiffness_factor=1.3)), bare=True)
    assert found.factors[0].value == pytest.approx(1.3, rel=1e-3)


def test_joints_are_recovered_where_they_are_soft(file, shown):
    found = calibrate(file, readings(shown([0.15, 0.3], joint_factor=0.05)), ["joint-factor"], bare=True)
    assert found.factors[0].value == pytest.approx(0.05, rel=1e-3)


def test_a_second_fit_starts_from_the_first(file, shown):
    """Factors multiply the file's values, so a file that has one already ends at the same stiffness."""
    started = file.model_copy(update={"frame": file.frame.model_copy(update={"stiffness_factor": 2.0})})
    found = calibrate(started, readings(shown([0.15, 0.3], stiffness_factor=0.7)), bare=True)
    assert found.factors[0].before == 2.0
    assert found.factors[0].value == pytest.approx(0.7, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("truth", "name", "key"),
    [(0.7, "stiffness-factor", "stiffness_factor"), (0.05, "joint-factor", "joint_factor")],
)
def test_intervals_hold_the_truth_as_often_as_they_say(file, shown, truth, name, key):
    """Of ten 95 % intervals at least eight hold it: fewer come by chance in 1.2 % of sets, and the seeds are fixed."""
    postures = shown([0.15, 0.3], **{key: truth})
    held, errors = 0, []
    for seed in range(10):
        (factor,) = calibrate(file, readings(postures, seed), [name], bare=True).factors
        held += factor.low <= truth <= factor.high
        errors.append(math.log(factor.value / truth) / (math.log(factor.high / factor.low) / (2 * 1.96)))
    assert held >= 8
    # Errors in standard deviations: chi-squared of ten, 0.1 % and 99.9 % points 1.5 and 29.6.
    assert 1.5 < np.sum(np.square(errors)) < 29.6


def test_sticking_springs_cancel_between_raising_and_lowering(file, shown):
    """Friction of three instrument uncertainties either way cancels in the pair; raising alone leaves an error."""
    both = readings(shown([0.15, 0.3], stiffness_factor=0.7), friction=3.0)
    found = calibrate(file, both, bare=True)
    assert len(found.readings) == len(both) / 2
    assert found.factors[0].value == pytest.approx(0.7, rel=1e-3)
    raising = calibrate(file, [r for r in both if r.direction == "raising"], bare=True)
    assert abs(raising.factors[0].value - 0.7) > 0.01
    assert any("only raising or only lowering" in text for text in raising.warnings)
    assert not any("only raising" in text for text in found.warnings)


def test_friction_widens_the_interval(file, shown):
    postures = shown([0.15, 0.3], stiffness_factor=0.7)
    widths = []
    for friction in (0.01, 3.0):
        factor = calibrate(file, readings(postures, friction=friction), bare=True).factors[0]
        widths.append(factor.high - factor.low)
    assert widths[1] > 3 * widths[0]


@pytest.mark.slow
def test_factors_that_act_alike_are_told_of(file, shown):
    """Joint torsion is most of what the joint factor does to a welded frame, so a twist fixes their product."""
    found = calibrate(
        file, readings(shown([0.2], joint_factor=0.3)), ["joint-factor", "joint-torsion"], bare=True
    )
    assert found.condition > 30
    assert any("cannot tell joint-factor and joint-torsion apart" in text for text in found.warnings)
    # What is fixed is the frame's stiffness.
    exact = calibrate(file, readings(shown([0.2], joint_factor=0.3)), ["joint-factor"], bare=True)
    assert found.frame_stiffness.value == pytest.approx(exact.frame_stiffness.value, rel=0.02)


def test_a_factor_that_hardly_matters_is_told_of(file, shown):
    """Stiff joints saturate: a welded frame twice as stiff in its joints is 2 % stiffer."""
    found = calibrate(file, readings(shown([0.2]), angle=math.radians(0.5)), ["joint-factor"], bare=True)
    assert math.isnan(found.factors[0].high)
    assert any("hardly tell joint-factor" in text and "no bound" in text for text in found.warnings)


def test_scatter_beyond_the_uncertainties_widens_the_interval(file, shown):
    postures = shown([0.1, 0.2, 0.3], stiffness_factor=0.7)
    quiet, loud = (calibrate(file, readings(postures, 5, noise), bare=True) for noise in (0.5, 4.0))
    assert quiet.scale == 1.0
    assert loud.scale > 2
    assert any("uncertainties allow" in text for text in loud.warnings)
    ratio = math.log(loud.factors[0].high / loud.factors[0].low) / math.log(
        quiet.factors[0].high / quiet.factors[0].low
    )
    # The sum of squares stays parabolic in the logarithm over this range to some per cent.
    assert ratio == pytest.approx(loud.scale, rel=0.15)


def test_twists_of_the_wrong_sign_are_told_of(file, shown):
    exact = readings(shown([0.1, 0.2], stiffness_factor=0.7))
    turned = [
        Reading(r.rows, r.height, r.under, r.kind, r.of, -r.value, r.uncertainty) if r.kind == "twist" else r
        for r in exact
    ]
    found = calibrate(file, turned, bare=True)
    assert any("opposite sign" in text for text in found.warnings)


@pytest.mark.parametrize(
    ("reading", "message"),
    [
        (Reading((7,), 0.2, UNDER, "wheel load", "middle left", 1e4, 100.0), 'line 7: wheel load: found "middle left"'),
        (Reading((8,), 0.2, UNDER, "gap", "cab back to body", 0.2, 0.01), "line 8: gap: .* none on this truck"),
        (Reading((9,), 0.2, ("rear middle",), "wheel load", "rear left", 1e4, 100.0), 'line 9: under: found "rear mid'),
        (Reading((3,), 0.2, UNDER, "twist", "front axle to rear", 0.1, 0.01), "line 3: .*no reference"),
        (Reading((3,), 0.2, UNDER, "twist", "front axle to rear axle + 9 m", 0.1, 0.01), "line 3: .*off the frame"),
    ],
)  # fmt: skip
def test_readings_of_what_the_truck_does_not_have(file, reading, message):
    with pytest.raises(ValueError, match=message):
        calibrate(file, [reading], bare=True)


def test_more_factors_than_readings(file, shown):
    with pytest.raises(ValueError, match="1 different readings cannot fix 2 factors"):
        calibrate(file, readings(shown([0.2]))[:1], ["stiffness-factor", "joint-factor"], bare=True)
    with pytest.raises(ValueError, match="allowed are stiffness-factor, joint-factor"):
        calibrate(file, readings(shown([0.2])), ["colour"], bare=True)
