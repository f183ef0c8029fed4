"""Fatigue of brackets from ground to results: a closed form, the bins, the results' columns, and limits."""

import re
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from crossaxle.sim.recorder import Bins, make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.studies.analysis.fatigue_life import bracket_damage, distance_text, fold_distance, lives
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.analysis.verdicts import MEETS, MISSES, OPEN, verdicts
from crossaxle.studies.base.endurance import Curve
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import number
from crossaxle.studies.charts import style
from crossaxle.studies.charts.catalogue import catalogue
from crossaxle.studies.charts.crack_distance import fatigue_life
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.report.fatigue_table import fatigue_table
from crossaxle.studies.run.bins import choose_range_bins
from crossaxle.studies.run.dataset import results
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.limits import Limit
from crossaxle.studies.study.study import load
from crossaxle.vehicles.structure import Output
from tests.sim.truck import truck

MPA = 1e6
STUDY = """
title = "Two mounts, invented"
vehicle = "library:clinic"
courses = ["library:wadi_tamrun"]
samples = 20
sample_length = "400 m"
sweep.mount = ["rigid", "pivoting"]
fatigue = {dynamic_factor = 1.4, partial_factor = 1.15}
"""


def test_damage_on_sine_ground_is_that_of_one_range_per_wave() -> None:
    """A linear truck on a long sine of one side: damage = distance over wavelength, over N of the range.

    The range is twice the amplitude of stress, from the complex response of the reduced model to wheel heights
    exp(i 2 pi s/wavelength). Bins are 0.5 % of it wide, so the damage (slope 3) is right within 0.75 %, and one wave
    more or less at the ends is one in 400.
    """
    structure = truck()
    model = reduce(structure)
    wave, height, spacing, positions = 5.0, 0.02, 0.05, 40_000
    lead = 100
    s = (np.arange(positions + lead) - lead) * spacing
    phase = 2 * np.pi / wave
    sides = np.unique(model.wheel_y)
    heights = np.vstack([np.zeros_like(s), height * np.sin(phase * s)])
    ground = WheelTracks(
        heights=heights,
        wheel_line=np.searchsorted(sides, model.wheel_y),
        spacing=spacing,
        grade=np.zeros_like(s),
        side_slope=np.zeros_like(s),
        lead=lead,
        segments=(Segment(0, positions),),
    )
    z = height * np.exp(-1j * phase * model.wheel_station) * (model.wheel_y > 0)
    plane = model.plane
    slopes = np.array([plane.slope_x @ z, plane.slope_y @ z])
    u = np.concatenate([-9.80665 * slopes, [0.0], plane.warp.T @ z])
    keys = [(o.quantity, o.item) for o in structure.outputs]
    asked = [("bracket_stress", "bracket 1"), ("bracket_stress", "bracket 2")]
    stress_range = [2 * abs(model.output_input[keys.index(key)] @ u) for key in asked]
    bins = {key: Bins(0.0, 1.5 * r, 300) for key, r in zip(asked, stress_range, strict=True)}
    runner = SampleRunner([model], make_recorder(structure.outputs, cycles=bins), linearised=True)
    found = runner.run(ground)
    assert found.exceptional_distance == 0
    for half_cycles, key, each in zip(found.half_cycles, asked, stress_range, strict=True):
        curve = Curve(each / 1.5)
        damage = curve.damage(bins[key].centres, half_cycles / 2, bins[key].width).sum()
        assert damage == pytest.approx(positions * spacing / wave / (2e6 / 1.5**3), rel=0.01)


@pytest.mark.parametrize("category", [36, 71, 160])
@pytest.mark.parametrize("factor", [1.0, 1.6])
@pytest.mark.parametrize("scale", [0.15, 0.3, 1.0])
def test_bins_are_narrow_enough_for_random_ranges(category: float, factor: float, scale: float) -> None:
    """Rayleigh ranges (narrow-band Gaussian stress) of several sizes: damage in bins within 2 % of every range's own.

    The smallest scale puts the cut-off at 1.7 to 2.7 of the Rayleigh parameter, where few ranges do all the damage.
    """
    ranges = np.random.default_rng(1).rayleigh(scale * category * MPA, 200_000)
    outputs = (Output("bracket_stress", "bracket", "Pa"),)
    bins = choose_range_bins([(outputs, np.array([50 * MPA]))], [category * MPA], factor)
    counts, _ = np.histogram(ranges, bins.count, (0.0, bins.high))
    assert counts.sum() == ranges.size
    curve = Curve(category * MPA)
    binned = curve.damage(factor * bins.centres, counts, factor * bins.width).sum()
    assert binned == pytest.approx(curve.damage(factor * ranges).sum(), rel=0.02)


def test_mean_damage_of_a_bin_is_that_of_ranges_spread_over_it() -> None:
    """Below, across and above both kinks of the curve, against the mean over 100 000 ranges."""
    curve = Curve(90 * MPA)
    for middle in (
        curve.cut_off,
        0.5 * (curve.cut_off + curve.limit),
        curve.limit,
        2 * curve.limit,
        20 * MPA,
    ):
        width = 4 * MPA
        spread = middle + width * (np.arange(0.5, 100_000) / 100_000 - 0.5)
        assert curve.damage(middle, 1.0, width) == pytest.approx(curve.damage(spread).mean(), rel=1e-3)


@pytest.fixture(scope="module")
def driven(tmp_path_factory: pytest.TempPathFactory) -> xr.Dataset:
    folder = tmp_path_factory.mktemp("fatigue")
    (folder / "study.toml").write_text(STUDY)
    return _results(Experiment(load(folder / "study.toml")))


def _results(experiment: Experiment) -> xr.Dataset:
    done = [experiment.run(sample) for sample in range(experiment.study.file.samples)]
    rows = np.stack([row for row, _ in done])
    counts = np.zeros((20, *done[0][1].shape), dtype=np.int64)
    for sample, (_, histogram) in enumerate(done):
        counts[sample % 20] += histogram
    return results(experiment, rows, counts)


def test_results_hold_cycles_and_categories(driven: xr.Dataset) -> None:
    counts = driven["bracket_cycles_histogram"]
    assert counts.dims == ("mount", "course", "fold", "bracket", "bracket_cycles_bin")
    assert driven["bracket_cycles_bin"].attrs["units"] == "Pa"
    assert (driven["bracket_detail_category"] == 90 * MPA).all()
    assert driven.attrs["dynamic_factor"] == 1.4 and driven.attrs["partial_factor"] == 1.15
    # a range is no larger than twice the largest magnitude; each sample adds cycles of its own
    largest = driven["bracket_stress_maximum"].max("sample")
    for mount in range(2):
        for bracket in range(2):
            own = counts[mount, 0, :, bracket].sum("fold")
            top = float(driven["bracket_cycles_bin"][np.flatnonzero(own)[-1]])
            assert 0.3 * largest[mount, 0, bracket] < top < 2 * largest[mount, 0, bracket]
    assert (counts.sum("bracket_cycles_bin") > 0).all()
    assert float(counts.sum()) % 0.5 == 0


def test_counts_of_a_sample_do_not_depend_on_what_ran_before(tmp_path: Path) -> None:
    """Sample 2 in a fresh experiment, as another worker would run it, and after two others in the same one."""
    (tmp_path / "study.toml").write_text(STUDY)
    study = load(tmp_path / "study.toml")
    used = Experiment(study)
    used.run(0), used.run(1)
    np.testing.assert_array_equal(used.run(2)[1], Experiment(study).run(2)[1])


def test_lives_follow_from_counts_factors_and_distance(driven: xr.Dataset) -> None:
    """Worst bracket by hand: all folds' cycles, ranges times 1.4 x 1.15, over the distance of all samples."""
    found = lives(driven)
    assert [(life.candidate, life.bracket) for life in found] == [
        (c, b) for c in (0, 1) for b in ("water front", "water rear")
    ]
    counts = driven["bracket_cycles_histogram"].sum(("fold", "course")).values
    curve = Curve(90 * MPA)
    ranges = driven["bracket_cycles_bin"].values * 1.4 * 1.15
    for life, own in zip(found, counts.reshape(4, -1), strict=True):
        damage = (own / curve.cycles(ranges)).sum()
        distance = fold_distance(driven).sum(axis=1)[life.candidate]
        assert distance == pytest.approx(20 * 400, rel=0.05)
        # bins as points instead of spread over their width: what that makes is below 2 %
        assert life.damage.value == pytest.approx(damage / distance, rel=0.02)
        assert life.distance.value == pytest.approx(1 / life.damage.value)
        assert 0 < life.distance.low < life.distance.value < life.distance.high
        assert life.beyond == 0


def test_chosen_bins_agree_with_far_finer_ones(tmp_path) -> None:
    """Damage on a shipped course in the chosen bins and in bins a twentieth as wide: within 2 %."""
    (tmp_path / "study.toml").write_text(STUDY.replace("samples = 20", "samples = 5"))
    experiment = Experiment(load(tmp_path / "study.toml"))
    candidate = experiment.candidates[0]
    tracks = experiment.tracks(candidate, experiment.ground(experiment.courses[0], 0))
    wide = experiment.recorders[0].records[experiment.recorders[0].followed[0]].cycles
    assert wide is not None
    fine = Bins(0.0, wide.high, 20 * wide.count)
    curve, factor = Curve(90 * MPA), 1.4 * 1.15
    damage = []
    for bins in (wide, fine):
        asked = dict.fromkeys([("bracket_stress", "water front"), ("bracket_stress", "water rear")], bins)
        recorder = make_recorder(candidate.level_model.outputs, cycles=asked)
        models = [reduce(candidate.vehicle.structure, s.normal_gravity) for s in tracks.segments]
        counts = SampleRunner(models, recorder).run(tracks).half_cycles / 2
        damage.append(curve.damage(factor * bins.centres, counts, factor * bins.width).sum(axis=1))
    assert (damage[1] > 0).all()
    np.testing.assert_allclose(damage[0], damage[1], rtol=0.02)


def test_a_limit_on_the_distance_to_a_crack_is_judged(driven: xr.Dataset) -> None:
    """Far below the shortest life it is met, far beyond it is missed, close to it open."""
    shortest = min(float(life.distance.value) for life in lives(driven) if life.candidate == 0)
    status = []
    for times in (0.01, 0.98, 100):
        limit = Limit(what="distance to crack", at_least=f"{times * shortest / 1e3!r} km")
        status.append(next(v for v in verdicts(driven, [limit]) if v.candidate == 0))
    assert [v.status for v in status] == [MEETS, OPEN, MISSES]
    assert status[1].further > 0
    assert status[0].probability > 0.975 > status[1].probability > 0.025 > status[2].probability


def test_no_damaging_range_meets_a_limit_that_the_distance_driven_supports(driven: xr.Dataset) -> None:
    quiet = driven.copy(deep=True)
    quiet["bracket_cycles_histogram"][..., 20:] = 0
    assert all(life.distance.value == np.inf and life.distance.low == 0 for life in lives(quiet))
    (verdict, _) = verdicts(quiet, [Limit(what="distance to crack", at_least="100000 km")])
    assert verdict.status == MEETS
    (verdict, _) = verdicts(quiet, [Limit(what="distance to crack", at_least="1e9 km")])
    assert verdict.status == OPEN


def test_the_largest_range_is_the_upper_edge_of_its_bin(driven: xr.Dataset) -> None:
    """Bins begin at 0: bin 7 ends at eight widths. Every candidate and bracket has its own, from whatever fold."""
    alone = driven.copy(deep=True)
    alone["bracket_cycles_histogram"][:] = 0
    places = {(0, 0): (3, 7), (0, 1): (19, 12), (1, 0): (0, 25), (1, 1): (5, 0)}
    for (mount, bracket), (fold, at) in places.items():
        alone["bracket_cycles_histogram"][mount, 0, fold, bracket, at] = 1
    width = driven["bracket_cycles_bin"].attrs["bin_width"]
    found = [life.largest / width for life in lives(alone)]
    assert found == pytest.approx([at + 1 for _, at in places.values()])


def test_without_a_category_nothing_is_counted(tmp_path) -> None:
    """The laboratory's brackets name none: no column, no cost, no fatigue."""
    text = STUDY.replace("clinic", "laboratory").replace("samples = 20", "samples = 1")
    (tmp_path / "study.toml").write_text(text)
    dataset = _results(Experiment(load(tmp_path / "study.toml")))
    assert "bracket_cycles_histogram" not in dataset and lives(dataset) == []
    assert verdicts(dataset, [Limit(what="distance to crack", at_least="1 km")]) == []


def test_a_swept_category_is_each_candidates_own(tmp_path) -> None:
    """Same cycles, another curve: ranges all in the steep part would differ by the cube of the categories."""
    text = STUDY.replace('sweep.mount = ["rigid", "pivoting"]', "").replace("samples = 20", "samples = 3")
    text += '[sweep]\ntank.water.bracket.detail_category = ["36 MPa", "112 MPa"]\n'
    text += 'tank.water.bracket.detail_kind = ["nominal"]\ntank.water.bracket.hot_spot_factor = [1]\n'
    (tmp_path / "study.toml").write_text(text)
    dataset = _results(Experiment(load(tmp_path / "study.toml")))
    weak, strong = dataset["bracket_cycles_histogram"].values.squeeze(axis=(1, 2))
    np.testing.assert_array_equal(weak, strong)
    ratio = bracket_damage(dataset).rate.value
    assert (ratio[0] / ratio[1] >= (112 / 36) ** 3).all()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            'tank.water.bracket.detail_category = ["72 MPa"]',
            "72 MPa, no detail category.*allowed are 36, 40",
        ),
        ('tank.water.bracket.detail_category = ["71"]', "71"),
    ],
)
def test_other_categories_are_refused(tmp_path, text: str, said: str) -> None:
    (tmp_path / "study.toml").write_text(
        STUDY.replace('sweep.mount = ["rigid", "pivoting"]', "") + f"[sweep]\n{text}\n"
    )
    with pytest.raises(InputError) as error:
        Experiment(load(tmp_path / "study.toml"))
    assert re.search(said, "\n".join(error.value.messages))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("dynamic_factor = 1.4", "dynamic_factor = 0.9", "dynamic_factor"),
        ("partial_factor = 1.15", "partial_factor = 3", "partial_factor"),
    ],
)
def test_factors_out_of_range_are_refused(tmp_path, old: str, new: str, said: str) -> None:
    (tmp_path / "study.toml").write_text(STUDY.replace(old, new))
    with pytest.raises(InputError) as error:
        load(tmp_path / "study.toml")
    assert said in "\n".join(error.value.messages)


def test_a_category_cannot_be_drawn(tmp_path) -> None:
    drawn = '[uncertain]\n"tank.water.bracket.detail_category" = {kind = "discrete", among = ["71 MPa", "90 MPa"]}\n'
    (tmp_path / "study.toml").write_text(STUDY + drawn)
    with pytest.raises(InputError) as error:
        load(tmp_path / "study.toml")
    assert "sweep it to compare" in "\n".join(error.value.messages)


def test_chart_and_table_say_the_factors_and_the_first_crack(driven: xr.Dataset) -> None:
    first = min(float(life.distance.value) for life in lives(driven)) / 1e3
    table = fatigue_table(driven, 0)
    assert table is not None and len(table.rows) == 4
    for width in (style.WIDE, style.NARROW):
        said = str(fatigue_life(driven, width=width).get_label())
        for words in (
            "times 1.4 for dynamics and 1.15",
            "EN 1993-1-9:2005",
            f"predicted life: {number(first)}",
        ):
            assert words in said
    assert "1.4 for dynamics and 1.15" in table.caption
    assert any(number(first) in row[-1].text for row in table.rows)
    assert "fatigue_life" in [entry.name for entry in catalogue(driven)]


def test_no_damage_is_said_in_words(driven: xr.Dataset) -> None:
    quiet = driven.copy(deep=True)
    quiet["bracket_cycles_histogram"][..., 20:] = 0
    assert str(fatigue_life(quiet).get_label()).startswith("No crack of a bracket expected within 10")
    table = fatigue_table(quiet, 0)
    assert table is not None
    assert {row[-1].text for row in table.rows} == {"no crack expected"}


def test_beyond_ten_million_kilometres_no_crack_is_expected(driven: xr.Dataset) -> None:
    """A chart of 1e12 km would claim to know; cycles a million times rarer take every life beyond the limit."""
    seldom = driven.copy(deep=True)
    seldom["bracket_cycles_histogram"] = seldom["bracket_cycles_histogram"] / 1e6
    assert all(np.isfinite(life.distance.value) and life.endless for life in lives(seldom))
    assert str(fatigue_life(seldom).get_label()).startswith("No crack of a bracket expected within 10")
    table = fatigue_table(seldom, 0)
    assert table is not None
    assert {row[-1].text for row in table.rows} == {"no crack expected"}
    assert not any(life.endless for life in lives(driven))


def test_the_outcome_is_the_worst_brackets_and_compares_in_its_unit(driven: xr.Dataset) -> None:
    """Percent of the life in 1,000 km; the difference of two candidates is that of their values."""
    outcome = next(o for o in headline(driven) if o.key == "bracket_life_used")
    for c in (0, 1):
        worst = max(
            (life for life in lives(driven) if life.candidate == c), key=lambda life: life.damage.value
        )
        assert outcome.estimate.value[c] == pytest.approx(1e8 / worst.distance.value)
        assert outcome.item[c] == worst.bracket
    found = outcome.compare(0, 1).difference
    assert found.value == pytest.approx(outcome.estimate.value[0] - outcome.estimate.value[1])
    assert found.low < found.value < found.high


def test_one_sample_gives_no_interval(driven: xr.Dataset) -> None:
    one = driven.isel(sample=slice(0, 1)).copy(deep=True)
    one["bracket_cycles_histogram"][:, :, 1:] = 0
    for life in lives(one):
        assert life.damage.value > 0
        assert (life.damage.low, life.damage.high) == (0, np.inf)


def test_a_distance_to_a_crack_is_told_in_kilometres() -> None:
    def plain(told: str) -> str:
        """Without the thin spaces that part digits in threes, and a number from its unit."""
        return told.replace("\u202f", "")

    metres = [np.asarray(x) for x in (123_000e3, 98_000e3, 151_000e3)]
    assert plain(distance_text(Interval(*metres))) == "123000km (98000 to 151000)"
    open_ended = Interval(metres[0], metres[1], np.asarray(np.inf))
    assert plain(distance_text(open_ended)) == "123000km (at least 98000)"
