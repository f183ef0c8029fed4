"""Ground of a sample: repeatable, independent from sample to sample, mixed by share, mirrored exactly."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from scipy.stats import kurtosis

from crossaxle.terrain.closed_form import Process, height
from crossaxle.terrain.course import Course, CourseSection, Patches, Roughness, Slope
from crossaxle.terrain.distribution import fixed, uniform
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.obstacles import Ditch, Hole
from crossaxle.terrain.shapes import X
from crossaxle.terrain.slow import slow_nodes, slow_values
from crossaxle.terrain.tracks import TyreLine, lay_tracks
from tests.shortcuts import mirrored

ROUGH = Roughness(iso_class="F", band_from=0.05, band_to=2.0)
LINES = (TyreLine(1.0, 0.5, 0.3), TyreLine(-1.0, 0.5, 0.3))


def course(**changes: object) -> Course:
    return Course("test", {"all": CourseSection(share=1, roughness=ROUGH, **changes)})


MIXED = Course(
    "mixed",
    {
        "road": CourseSection(share=0.5, roughness=Roughness(iso_class="D", band_from=0.05, band_to=2.0)),
        "track": CourseSection(
            share=0.3,
            roughness=ROUGH,
            patches=Patches(strength=0.3, length=20.0),
            grade=Slope(mean=0.1, deviation=0.02, length=30.0),
            side_slope=Slope(mean=-0.05),
            obstacles=(
                Ditch(rate=0.02, width=uniform(1.0, 3.0), depth=fixed(0.3), angle=uniform(0.0, 0.7)),
                Hole(rate=0.02, diameter=uniform(1.0, 2.0), depth=fixed(0.2)),
            ),
        ),
        "plain": CourseSection(share=0.2),
    },
)


def test_same_seed_same_ground_whatever_the_order_and_the_workers() -> None:
    def lay(k: int) -> bytes:
        tracks = lay_tracks(MIXED, LINES, 0.05, 8000, 100, seed=7, sample=k)
        return tracks.heights.tobytes() + tracks.grade.tobytes() + tracks.side_slope.tobytes()

    alone = [lay(k) for k in range(6)]
    backwards = [lay(k) for k in reversed(range(6))][::-1]
    with ThreadPoolExecutor(3) as pool:
        together = list(pool.map(lay, range(6)))
    assert alone == backwards == together
    assert len(set(alone)) == 6
    assert lay_tracks(MIXED, LINES, 0.05, 8000, 100, seed=8, sample=0).heights.tobytes() not in alone[0]


def test_samples_are_independent() -> None:
    """Correlation of samples at the same place: 100 waves a sample leave a scatter of 0.1, 45 pairs, bound 0.5."""
    z = np.array([lay_ground(course(), (1.0,), 0.1, 20_000, 3, k).heights[0] for k in range(10)])
    assert np.abs(np.corrcoef(z) - np.eye(10)).max() < 0.5


def test_lines_laid_later_do_not_change_the_earlier() -> None:
    """So that a truck with two track widths, or a picture, meets the same ground on the lines that it shares."""
    few = lay_ground(MIXED, (1.0, -1.0), 0.05, 8000, 7, 0).heights
    many = lay_ground(MIXED, (1.0, -1.0, 0.9, -0.9, 0.0, 0.3), 0.05, 8000, 7, 0).heights
    np.testing.assert_array_equal(few, many[:2])


def test_close_lines_are_close() -> None:
    """Two lines 1 cm apart differ by the closed form 2 pi^2 t n0^2 G at most (band limits make it less)."""
    z = lay_ground(course(), (1.0, -1.0, 1.01, 0.99), 0.05, 20_000, 7, 0).heights.astype(float)
    for other in (2, 3):
        assert np.var(z[0] - z[other]) < 2 * np.pi**2 * 0.01 * 0.01 * 16384e-6
    assert np.var(z[2] - z[3]) > np.var(z[0] - z[2])


def test_sections_come_in_order_and_by_share() -> None:
    tracks = lay_tracks(MIXED, LINES, 0.05, 20_000, 100, 7, 0)
    assert [(s.section, s.start, s.stop) for s in tracks.segments] == [
        ("road", 0, 10_000),
        ("track", 10_000, 16_000),
        ("plain", 16_000, 20_000),
    ]
    assert tracks.segments[0].slope_cosine == 1
    tangent = np.hypot(np.tan(0.1), np.tan(-0.05))
    assert tracks.segments[1].slope_cosine == pytest.approx(np.cos(np.arctan(tangent)))
    assert tracks.n_positions == 20_000
    assert np.all(tracks.heights[:, 100 + 16_200 :] == 0), "the plain is flat beyond the blend"


@pytest.mark.parametrize("section", [0, 1])
def test_each_section_has_its_roughness(section: int) -> None:
    """Mean square over 40 samples against the spectrum's integral, four standard deviations of the mean."""
    name = list(MIXED.sections)[section]
    rough = MIXED.sections[name].roughness
    assert rough is not None
    plain = Course(
        "two", {k: CourseSection(share=0.5, roughness=MIXED.sections[k].roughness) for k in ("road", "track")}
    )
    found = []
    for k in range(40):
        ground = lay_ground(plain, (1.0,), 0.1, 8000, 9, k)
        here = ground.stretches[section]
        found.append(np.mean(ground.heights[0, here.start : here.stop].astype(float) ** 2))
    exact = rough.spectrum().moment(0)
    assert abs(np.mean(found) - exact) < 4 * np.std(found) / np.sqrt(40)


def test_blend_keeps_the_variance() -> None:
    """20 sections of one spectrum: the mean square at 19 joins of 200 samples, four deviations of a variance."""
    alike = Course("alike", {f"part {i}": CourseSection(share=0.05, roughness=ROUGH) for i in range(20)})
    z = np.array([lay_ground(alike, (1.0,), 0.1, 8000, 9, k).heights[0, 400::400][:19] for k in range(200)])
    assert np.mean(z.astype(float) ** 2) == pytest.approx(
        ROUGH.spectrum().moment(0), rel=4 * np.sqrt(2 / 3800)
    )


def test_sections_have_random_numbers_of_their_own() -> None:
    """Two sections of one kind are unrelated: 800 m of independent waves scatter by 0.1, bound 0.5."""
    twice = Course(
        "twice",
        {"a": CourseSection(share=0.5, roughness=ROUGH), "b": CourseSection(share=0.5, roughness=ROUGH)},
    )
    z = lay_ground(twice, (1.0,), 0.1, 20_000, 9, 0).heights[0].astype(float)
    first, second = z[:10_000], z[10_000:]
    lags = range(-300, 301, 10)
    inner = first[300:-300]
    found = [np.corrcoef(inner, second[300 + lag : second.size - 300 + lag])[0, 1] for lag in lags]
    assert np.abs(found).max() < 0.5


def test_slopes_are_constant_or_slowly_varying() -> None:
    constant = lay_ground(course(grade=Slope(mean=0.2), side_slope=Slope(mean=-0.1)), (1.0,), 0.1, 1000, 1, 0)
    np.testing.assert_allclose(constant.grade, np.tan(0.2))
    np.testing.assert_allclose(constant.side_slope, np.tan(-0.1))
    slope = Slope(mean=0.1, deviation=0.03, length=20.0)
    varying = Course("varying", {"all": CourseSection(share=1, side_slope=slope)})
    angles = np.arctan([lay_ground(varying, (1.0,), 0.5, 4000, 1, k).side_slope for k in range(50)])
    # 50 samples of 2 km, one independent value in about 50 m
    scatter = 0.03 / np.sqrt(50 * 40)
    assert angles.mean() == pytest.approx(0.1, abs=4 * scatter)
    assert angles.std() == pytest.approx(0.03, abs=4 * scatter)
    centred = angles - 0.1
    for lag in (20, 40, 80):
        found = np.mean(centred[:, lag:] * centred[:, :-lag]) / 0.03**2
        assert found == pytest.approx(np.exp(-((lag * 0.5 / 20) ** 2) / 2), abs=0.1)


@pytest.mark.parametrize("length", [1.0, 3.7, 50.0])
def test_slow_values_are_linear_between_their_nodes(length: float) -> None:
    """Nodes a tenth of the length apart, points every 5 cm, against numpy's interpolation."""
    n, spacing = 2000, 0.05
    nodes = slow_nodes(np.random.default_rng(1), n, spacing, length)
    places = np.arange(nodes.size) * length / 10
    assert places[-1] > (n - 1) * spacing, "the nodes reach the last point"
    np.testing.assert_allclose(
        slow_values(nodes, n, spacing, length), np.interp(np.arange(n) * spacing, places, nodes), atol=1e-9
    )


def test_slopes_do_not_change_the_heights() -> None:
    level, sloping = (
        lay_ground(c, (1.0, -1.0), 0.1, 1000, 1, 0) for c in (course(), course(grade=Slope(mean=0.2)))
    )
    np.testing.assert_array_equal(level.heights, sloping.heights)


def test_patches_raise_the_kurtosis_and_keep_the_variance() -> None:
    """Kurtosis 3 exp(4 s^2) for a factor exp(s g - s^2): the fourth moment of a lognormal.

    400 samples of 2 km with s = 0.4; the kurtosis of all of them scatters by about 2 %.
    """
    rough = Roughness(iso_class="F", band_from=0.05, band_to=0.9)
    patched = Course(
        "p", {"all": CourseSection(share=1, roughness=rough, patches=Patches(strength=0.4, length=15.0))}
    )
    z = np.array([lay_ground(patched, (1.0,), 0.5, 4000, 1, k).heights[0] for k in range(400)]).astype(float)
    assert kurtosis(z, axis=None, fisher=False) == pytest.approx(3 * np.exp(4 * 0.4**2), rel=0.08)
    assert z.var() == pytest.approx(rough.spectrum().moment(0), rel=0.03)
    plain = Course("p", {"all": CourseSection(share=1, roughness=rough)})
    z = np.array([lay_ground(plain, (1.0,), 0.5, 4000, 1, k).heights[0] for k in range(100)]).astype(float)
    assert kurtosis(z, axis=None, fisher=False) == pytest.approx(3, rel=0.02)


def test_mirrored_tracks_are_the_ground_seen_from_the_other_side() -> None:
    tracks = lay_tracks(MIXED, LINES, 0.05, 8000, 100, 7, 0)
    other = mirrored(tracks)
    np.testing.assert_array_equal(other.heights[0], tracks.heights[1])
    np.testing.assert_array_equal(other.heights[1], tracks.heights[0])
    np.testing.assert_array_equal(other.side_slope, -tracks.side_slope)
    np.testing.assert_array_equal(other.grade, tracks.grade)
    np.testing.assert_array_equal(mirrored(other).heights, tracks.heights)
    four = (*LINES, TyreLine(0.9, 0.45, 0.2), TyreLine(-0.9, 0.45, 0.2))
    tracks = lay_tracks(MIXED, four, 0.05, 8000, 100, 7, 0)
    np.testing.assert_array_equal(mirrored(tracks).heights, tracks.heights[[1, 0, 3, 2]])
    with pytest.raises(ValueError, match=r"lines at 1, 0.5 m are not symmetric"):
        mirrored(lay_tracks(MIXED, (LINES[0], TyreLine(0.5, 0.5, 0.3)), 0.05, 8000, 100, 7, 0))


def test_left_and_right_are_alike_on_average() -> None:
    """Nothing favours a side: variances of 200 samples agree within four standard deviations."""
    z = np.array([lay_ground(course(), (1.0, -1.0), 0.1, 2000, 5, k).heights for k in range(200)]).astype(
        float
    )
    power = np.mean(z**2, axis=2)
    difference = power[:, 0] - power[:, 1]
    assert abs(difference.mean()) < 4 * difference.std() / np.sqrt(200)


def test_the_ground_does_not_depend_on_the_truck() -> None:
    """Length, tyres and further lines change what is felt, not the ground: the raw line is the same to the last bit."""
    raw = TyreLine(1.0, 0.0, 0.0)
    short = lay_tracks(MIXED, (raw, TyreLine(-1.0, 0.4, 0.2)), 0.05, 8000, 80, 7, 0)
    long = lay_tracks(MIXED, (TyreLine(1.0, 0.7, 0.4), TyreLine(-1.0, 0.7, 0.4), raw), 0.05, 8000, 160, 7, 0)
    np.testing.assert_array_equal(short.heights[0], long.heights[2, 80:])
    np.testing.assert_array_equal(short.grade, long.grade[80:])
    np.testing.assert_array_equal(short.side_slope, long.side_slope[80:])
    assert short.segments == long.segments
    assert np.all(long.heights[0] >= lay_tracks(MIXED, LINES, 0.05, 8000, 160, 7, 0).heights[0] - 0.05)


def test_the_front_axle_is_at_point_lead_plus_p() -> None:
    """A single wide ditch sits where its x says."""
    ditch = Ditch(rate=0.002, width=fixed(4.0), depth=fixed(0.3))
    single = Course("one", {"all": CourseSection(share=1, obstacles=(ditch,))})
    x = lay_ground(single, (1.0,), 0.05, 10_000, 7, 3).obstacles[:, X]
    tracks = lay_tracks(single, LINES, 0.05, 10_000, 100, 7, 3)
    inside = x[(x > 5) & (x < 495)]
    assert inside.size > 0
    for place in inside:
        at = round(place / 0.05)
        lowest = at - 20 + np.argmin(tracks.heights[0, 100 + at - 20 : 100 + at + 20])
        assert lowest * 0.05 == pytest.approx(place, abs=0.06)


def test_tyres_that_share_a_disc_are_filtered_as_if_alone() -> None:
    """Radius and line in common, contact lengths not, in any order: the same bits as each tyre by itself."""
    lines = tuple(
        TyreLine(y, radius, length)
        for radius, length in ((0.5, 0.3), (0.5, 0.42), (0.6, 0.3), (0.5, 0.0), (0.0, 0.3), (0.5, 0.06))
        for y in (1.0, -1.0)
    )
    together = lay_tracks(MIXED, lines, 0.05, 4000, 100, 7, 0)
    for row, line in enumerate(lines):
        alone = lay_tracks(MIXED, (LINES[0], LINES[1], line), 0.05, 4000, 100, 7, 0)
        np.testing.assert_array_equal(together.heights[row], alone.heights[2])


def test_height_process_agrees_with_laid_ground_at_the_ends() -> None:
    """The first and the last point are as rough as any other: mean square of 600 samples, four deviations."""
    exact = Process(height(), ROUGH.spectrum(), course().sections["all"].model()).moment(0)
    z = np.array([lay_ground(course(), (1.0,), 0.1, 700, 2, k).heights[0] for k in range(600)]).astype(float)
    for point in (0, 350, -1):
        assert np.mean(z[:, point] ** 2) == pytest.approx(exact, rel=4 * np.sqrt(2 / 600))


@pytest.mark.parametrize(
    ("lay", "text"),
    [
        (
            lambda: lay_tracks(course(), (TyreLine(1.0, 0.5, 0.3),), 0.2, 1000, 100, 1, 0),
            r"0.2 m apart are too coarse for a tyre of radius 0.5 m",
        ),
        (
            lambda: lay_tracks(course(), (TyreLine(1.0, 0.0, 0.0),), 0.3, 1000, 50, 1, 0),
            r"carry waves up to 1.66667 cycle/m, but the band reaches 2 cycle/m",
        ),
        (
            lambda: lay_tracks(MIXED, LINES, 0.05, 2, 100, 1, 0),
            r"section plain gets no point of a sample of 2",
        ),
        (
            lambda: lay_tracks(course(), LINES, 0.05, 1000, 600, 1, 0),
            r"30.65 m before and 0.65 m after the sample are wanted; at most 20 m and 5 m are laid",
        ),
    ],
)
def test_errors(lay, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        lay()
