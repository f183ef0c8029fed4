"""Obstacles: Poisson arrivals, distributions of size, place and angle, and the shapes they add to the ground."""

from typing import Literal

import numpy as np
import pytest
from scipy.stats import chi2, kstest, norm

from crossaxle.terrain.course import Course, CourseSection
from crossaxle.terrain.distribution import fixed, lognormal, uniform
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.obstacles import (
    KINDS,
    Boulder,
    Ditch,
    Hole,
    Mound,
    Population,
    Ruts,
    Step,
    Washboard,
    WaterBar,
)
from crossaxle.terrain.shapes import ANGLE, HEIGHT, KIND, LENGTH, PERIOD, SIDE, WIDTH, X, Y

SPACING = 0.05


def flat(*obstacles: Population) -> Course:
    return Course("flat", {"plain": CourseSection(share=1, obstacles=obstacles)})


def one(obstacle: Population, x: float = 10.0, **columns: float) -> np.ndarray:
    """Row of one obstacle at x, with some columns set."""
    row = obstacle.rows(np.random.default_rng(1), 0.0, 1e5)[:1]
    row[0, X] = x
    for name, value in columns.items():
        row[0, {"y": Y, "angle": ANGLE, "side": SIDE}[name]] = value
    return row


def heights(row: np.ndarray, lines_y: tuple[float, ...] = (1.0, -1.0), n_points: int = 1000) -> np.ndarray:
    from crossaxle.terrain.obstacles import add_obstacles

    z = np.zeros((len(lines_y), n_points), np.float32)
    add_obstacles(z, np.array(lines_y), 0.0, SPACING, row)
    return z


def test_counts_are_poisson() -> None:
    """Dispersion test: sum (count - mean)^2 / mean over m samples is chi-square with m - 1 degrees of freedom.

    (Common statistical practice.) Both tails at 1 in 1000, and the mean within four of its standard deviations.
    """
    course = flat(Hole(rate=8e-3, diameter=fixed(1.0), depth=fixed(0.2)))
    places = [lay_ground(course, (1.0,), 0.5, 2000, 5, k).obstacles[:, X] for k in range(300)]
    counts = np.array([np.sum((x >= 0) & (x < 1000)) for x in places])
    dispersion = np.sum((counts - counts.mean()) ** 2) / counts.mean()
    assert chi2.ppf(0.001, 299) < dispersion < chi2.ppf(0.999, 299)
    assert counts.mean() == pytest.approx(8.0, abs=4 * np.sqrt(8.0 / 300))


def test_places_are_uniform_and_gaps_exponential() -> None:
    """Kolmogorov-Smirnov test at 1 in 1000."""
    course = flat(Hole(rate=0.01, diameter=fixed(1.0), depth=fixed(0.2)))
    x = lay_ground(course, (1.0,), 0.5, 200_000, 5, 0).obstacles[:, X]
    assert x[0] < 0 < x[1], "the ground before the start has obstacles too"
    assert kstest((x - x[0]) / (x[-1] - x[0]), "uniform").pvalue > 0.001
    assert kstest(np.diff(x) * 0.01, "expon").pvalue > 0.001


def test_sizes_follow_their_distributions() -> None:
    """Kolmogorov-Smirnov test at 1 in 1000; the lognormal is cut, so its distribution is rescaled, not clipped."""
    rng = np.random.default_rng(2)
    assert kstest(uniform(0.2, 0.6).draw(rng, 2000), "uniform", (0.2, 0.4)).pvalue > 0.001
    cut = lognormal(0.3, 0.4, 0.5)
    drawn = cut.draw(rng, 2000)
    whole = norm(np.log(0.3), 0.4)
    assert drawn.max() <= 0.5
    assert kstest(drawn, lambda v: whole.cdf(np.log(v)) / whole.cdf(np.log(0.5))).pvalue > 0.001
    assert set(fixed(0.3).draw(rng, 5)) == {0.3}


def test_side_and_angle_are_as_often_left_as_right() -> None:
    """4000 draws: counts within four standard deviations of a half."""
    rows = Hole(rate=0.04, diameter=fixed(1.0), depth=fixed(0.2), offset=uniform(0.5, 1.5)).rows(
        np.random.default_rng(3), 0.0, 1e5
    )
    assert abs(np.mean(rows[:, Y] > 0) - 0.5) < 4 * 0.5 / np.sqrt(len(rows))
    assert np.all((np.abs(rows[:, Y]) >= 0.5) & (np.abs(rows[:, Y]) <= 1.5))
    left = Hole(rate=0.04, diameter=fixed(1.0), depth=fixed(0.2), side="left").rows(
        np.random.default_rng(3), 0, 1e4
    )
    assert np.all(left[:, Y] > 0)
    ditches = Ditch(rate=0.04, width=fixed(2.0), depth=fixed(0.3), angle=uniform(0.1, 0.5))
    angles = ditches.rows(np.random.default_rng(4), 0.0, 1e5)[:, ANGLE]
    assert abs(np.mean(angles > 0) - 0.5) < 4 * 0.5 / np.sqrt(angles.size)
    assert np.all((np.abs(angles) >= 0.1) & (np.abs(angles) <= 0.5))


def test_skew_ditch_meets_the_tracks_one_after_the_other() -> None:
    """At an angle a the tracks meet the bottom t tan(a) apart, and the ditch is 1/cos(a) wider along the way."""
    angle = np.radians(30)
    z = heights(one(Ditch(rate=1e-3, width=fixed(2.0), depth=fixed(0.4)), angle=angle))
    bottom = SPACING * np.argmin(z, axis=1)
    assert bottom[1] - bottom[0] == pytest.approx(2 * np.tan(angle), abs=1.01 * SPACING)
    assert z.min() == pytest.approx(-0.4, abs=2e-3)
    width = SPACING * np.sum(z[0] < -0.2)
    assert width == pytest.approx(1.0 / np.cos(angle), abs=1.01 * SPACING)


def test_square_ditch_is_a_raised_cosine_without_edges() -> None:
    z = heights(one(Ditch(rate=1e-3, width=fixed(2.0), depth=fixed(0.4))))[0]
    x = SPACING * np.arange(z.size) - 10.0
    expected = np.where(np.abs(x) < 1, -0.2 * (1 + np.cos(np.pi * x)), 0.0)
    np.testing.assert_allclose(z, expected, atol=1e-6)


@pytest.mark.parametrize(("kind", "sign"), [(Hole, -1), (Mound, 1)])
def test_round_obstacle_falls_off_with_distance(kind: type, sign: int) -> None:
    size = {"depth": fixed(0.3)} if kind is Hole else {"height": fixed(0.3)}
    z = heights(one(kind(rate=1e-3, diameter=fixed(2.0), **size), y=1.0), (1.0, 0.5, 0.0, -1.0))
    assert sign * z[0, 200] == pytest.approx(0.3)
    assert sign * z[1, 200] == pytest.approx(0.15)
    assert np.all(z[3] == 0)
    half = np.array([z[0, 200 + 10], z[1, 200]])
    assert half[0] == pytest.approx(half[1]), "as far along as across"


def test_boulder_is_half_an_ellipsoid() -> None:
    z = heights(one(Boulder(rate=1e-3, diameter=fixed(1.0), height=fixed(0.4)), y=1.0))[0]
    x = SPACING * np.arange(z.size) - 10.0
    np.testing.assert_allclose((x / 0.5) ** 2 + (z / 0.4) ** 2 > 0.999, np.ones_like(z), atol=0)
    assert z.max() == pytest.approx(0.4)
    assert z[np.abs(x) < 0.499].min() > 0.1, "its rim is steep"


@pytest.mark.parametrize("direction", ["up", "down"])
@pytest.mark.parametrize("ramp", [0.0, 0.6])
def test_step_goes_over_its_ramp_and_comes_back(direction: str, ramp: float) -> None:
    step = Step(rate=1e-3, height=fixed(0.3), direction=direction, ramp=fixed(ramp), run_out=20.0)
    z = heights(one(step), n_points=1000)[0] * (1 if direction == "up" else -1)
    x = SPACING * np.arange(z.size) - 10.0
    assert np.all(z[x < -1e-9] == 0)
    assert z[x > ramp - 1e-9].max() == pytest.approx(0.3)
    assert SPACING * np.sum((z > 0.003) & (z < 0.297) & (x < ramp)) == pytest.approx(0.87 * ramp, abs=0.11)
    assert z[-1] == 0
    assert np.abs(np.diff(z[x > ramp])).max() < 0.3 / 20 * np.pi / 2 * SPACING * 1.01, (
        "the way back is gentle"
    )


def test_ruts_run_along_the_way() -> None:
    row = one(
        Ruts(rate=1e-3, length=fixed(20.0), depth=fixed(0.25), width=fixed(0.6), gauge=fixed(2.0)), y=0.3
    )
    z = heights(row, (1.3, -0.7, 0.3, 1.0, 1.7))
    assert z[0].min() == pytest.approx(-0.25)
    assert z[1].min() == pytest.approx(-0.25)
    assert np.all(z[2] == 0), "nothing between the ruts"
    assert z[3].min() == pytest.approx(0.0, abs=1e-6), "half a width beside the rut"
    inside = np.flatnonzero(z[0] < -0.2499)
    assert SPACING * (inside[-1] - inside[0]) == pytest.approx(10.0, abs=0.3), (
        "full depth over the middle half"
    )


def test_water_bar_has_its_drain_before_it() -> None:
    z = heights(one(WaterBar(rate=1e-3, width=fixed(1.5), height=fixed(0.3))))[0]
    assert z.max() == pytest.approx(0.3)
    assert z.min() == pytest.approx(-0.15, abs=0.01)
    assert np.argmin(z) < np.argmax(z)
    assert SPACING * np.sum(z != 0) == pytest.approx(3.0, abs=0.11)


def test_washboard_has_its_wave_length_and_fades() -> None:
    z = heights(
        one(Washboard(rate=1e-3, length=fixed(24.0), wave_length=fixed(0.8), amplitude=fixed(0.03))),
        n_points=1000,
    )[0]
    here = z[200 : 200 + 480].astype(float)
    waves = np.fft.rfftfreq(480, SPACING)
    assert waves[np.argmax(np.abs(np.fft.rfft(here)))] == pytest.approx(1 / 0.8, abs=0.03)
    assert np.abs(here).max() == pytest.approx(0.03, rel=0.03)
    assert np.abs(here[:5]).max() < 0.005


def test_one_sided_obstacle_spares_the_other_track() -> None:
    z = heights(one(Ditch(rate=1e-3, width=fixed(2.0), depth=fixed(0.4)), side=1.0), (1.0, 0.0, -1.0))
    assert z[0].min() == pytest.approx(-0.4)
    assert z[1].min() == pytest.approx(-0.2)
    assert np.all(z[2] == 0)


def test_obstacles_mirror() -> None:
    """Angle, side and place negated give the heights of the lines exchanged, exactly."""
    for obstacle in (
        Ditch(rate=1e-3, width=fixed(2.0), depth=fixed(0.4)),
        Boulder(rate=1e-3, diameter=fixed(2.2), height=fixed(0.4)),
        Ruts(rate=1e-3, length=fixed(20.0), depth=fixed(0.25)),
    ):
        row = one(obstacle, y=0.4, angle=0.3, side=1.0)
        other = row.copy()
        other[:, [Y, ANGLE, SIDE]] *= -1
        np.testing.assert_array_equal(heights(row), heights(other)[::-1])


def test_crossing_angles_stay_below_a_bound() -> None:
    rows = Ditch(rate=0.01, width=fixed(2.0), depth=fixed(0.4), angle=fixed(1.5)).rows(
        np.random.default_rng(1), 0.0, 1e4
    )
    assert np.abs(rows[:, ANGLE]).max() == pytest.approx(np.radians(70))
    assert np.all(rows[:, HEIGHT] == -0.4)
    assert np.all(rows[:, WIDTH] == 2.0)


def test_a_kind_without_a_shape_is_refused_when_it_is_defined() -> None:
    with pytest.raises(TypeError, match="without a shape"):
        type("Log", (Population,), {"__annotations__": {"kind": Literal["log"]}, "kind": "log"})


def test_every_kind_is_laid_within_its_reach_and_nowhere_else() -> None:
    """Heights outside the stretch that a kind says it reaches are none; inside some are."""
    for code, kind in enumerate(KINDS):
        row = np.zeros(9)
        row[[KIND, X, HEIGHT, WIDTH, LENGTH, PERIOD]] = code, 20.0, 0.3, 1.0, 4.0, 1.5
        first, last = kind.shape.reach(0.4, row)
        x = np.arange(0.0, 40.0, 0.05)
        laid = np.array([kind.shape.height(float(p), 0.4, row) for p in x])
        assert np.abs(laid[(x > first) & (x < last)]).max() > 0.01, kind.word()
        assert np.abs(laid[(x < first - 1e-9) | (x > last + 1e-9)]).max() < 1e-12, kind.word()


def test_a_code_of_no_kind_lays_no_other_shape() -> None:
    row = np.zeros((1, 9))
    row[0, [KIND, X, HEIGHT, WIDTH, LENGTH, PERIOD]] = len(KINDS), 10.0, 0.3, 1.0, 4.0, 1.5
    assert heights(row).max() == 0.0
