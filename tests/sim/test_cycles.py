"""Cycles counted along whole tracks, against the reference solver's own series counted by the package `rainflow`.

The package follows ASTM E1049-85 and counts what stays open as half cycles, as the kernel does. It knows no gate, so
the bins here are so narrow that the gate, half a bin, is below every reversal but those of rounding.
"""

import dataclasses
import itertools

import numpy as np
import pytest
import rainflow

from crossaxle.sim.codes import GOOD, NOT_FINITE, TIPPED
from crossaxle.sim.recorder import Bins, Recorder, make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.vehicles.structure import Structure
from tests.shortcuts import run_sample
from tests.sim import slow
from tests.sim.interpreted import interpreted
from tests.sim.truck import truck

ASKED = ("bracket_stress", "bracket 1"), ("bracket_stress", "bracket 2")
MPA = 1e6


def recorder(structure: Structure, bins: Bins) -> Recorder:
    return make_recorder(structure.outputs, cycles=dict.fromkeys(ASKED, bins))


def series(structure: Structure, models: list, ground: WheelTracks) -> list[np.ndarray]:
    """Signed stress of each bracket by the reference solver; positions without a posture left out."""
    channels = [[(o.quantity, o.item) for o in structure.outputs].index(key) for key in ASKED]
    good = [posture.y for posture in slow.postures(models, ground) if posture.code == GOOD]
    return [np.array([y[channel] for y in good]) for channel in channels]


@pytest.mark.parametrize(
    ("positions", "size", "slope", "tips"),
    [(1003, 0.03, 0.0, False), (1500, 0.11, 0.1, False), (1500, 0.16, 0.15, True)],
)
def test_counts_of_the_reference_solvers_series(
    positions: int, size: float, slope: float, tips: bool
) -> None:
    """Where all wheels carry, where some hang, and where the truck tips and comes back.

    Bins are a twenty-thousandth of the largest range wide. Sums of powers of the ranges agree to 0.1 %, which no
    edge of a bin can upset; of ranges of 40 bins and more the number agrees, but for one at that edge.
    """
    structure = truck(stops=True, sprung=True)
    models = [reduce(structure, g) for g in (9.80665, 9.2)]
    ground = slow.tracks(
        np.random.default_rng(7), models[0], positions, size, slope=slope, normal_gravities=(9.80665, 9.2)
    )
    stresses = series(structure, models, ground)
    bins = Bins(0.0, 1.1 * max(float(np.ptp(stress)) for stress in stresses), 22_000)
    found = SampleRunner(models, recorder(structure, bins)).run(ground)
    assert (found.code == TIPPED) == tips
    assert (found.exceptional_distance > 0) == (size > 0.1)
    for counts, stress in zip(found.half_cycles / 2, stresses, strict=True):
        ranges, cycles = np.array(list(rainflow.count_cycles(stress))).T
        for power in (1, 3, 5):
            wanted = (cycles * ranges**power).sum()
            assert (counts * bins.centres**power).sum() == pytest.approx(wanted, rel=1e-3)
        wanted = cycles[ranges > 40 * bins.width].sum()
        assert counts[40:].sum() == pytest.approx(wanted, abs=1)
        assert wanted > 10


def test_more_segments_change_nothing() -> None:
    """The counters go on where a segment or a block ends."""
    structure = truck(stops=True, sprung=True)
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(3), model, 2000, 0.16)
    runner = SampleRunner([model], recorder(structure, Bins(0.0, 400 * MPA, 400)))
    cuts = [0, 1, 2, 300, 556, 557, 1500, 2000]
    pieces = tuple(Segment(a, b) for a, b in itertools.pairwise(cuts))
    one, many = runner.run(ground), runner.run(dataclasses.replace(ground, segments=pieces))
    np.testing.assert_array_equal(one.half_cycles, many.half_cycles)
    assert one.half_cycles.sum() > 100


def test_a_sample_is_counted_on_its_own() -> None:
    structure = truck()
    model = reduce(structure)
    one = recorder(structure, Bins(0.0, 400 * MPA, 400))
    runner = SampleRunner([model], one)
    grounds = [slow.tracks(np.random.default_rng(seed), model, 900, 0.1) for seed in (1, 2)]
    first, second, again = (runner.run(g).half_cycles for g in (*grounds, grounds[0]))
    np.testing.assert_array_equal(first, again)
    np.testing.assert_array_equal(second, run_sample([model], grounds[1], one).half_cycles)


def test_counting_changes_nothing_else() -> None:
    structure = truck(stops=True, sprung=True, all_outputs=True)
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(4), model, 2000, 0.16, slope=0.35)
    plain = run_sample([model], ground, make_recorder(structure.outputs))
    counted = run_sample([model], ground, recorder(structure, Bins(0.0, 400 * MPA, 400)))
    assert plain.half_cycles.size == 0
    for name in (field.name for field in dataclasses.fields(plain) if field.name != "half_cycles"):
        np.testing.assert_array_equal(getattr(plain, name), getattr(counted, name), err_msg=name)


def test_ground_that_is_not_finite_leaves_no_counts() -> None:
    structure = truck()
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(1), model, 1000, 0.05)
    ground.heights[1, 900] = np.nan
    found = run_sample([model], ground, recorder(structure, Bins(0.0, 400 * MPA, 400)))
    assert found.code == NOT_FINITE
    assert found.half_cycles.sum() == 0


def _short_counts() -> np.ndarray:
    structure = truck(stops=True, sprung=True)
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(5), model, 900, 0.16, slope=0.35)
    return run_sample([model], ground, recorder(structure, Bins(0.0, 400 * MPA, 400))).half_cycles


def test_the_same_counts_interpreted() -> None:
    np.testing.assert_array_equal(interpreted("tests.sim.test_cycles", "_short_counts"), _short_counts())


def test_cycles_of_several_places_together_are_refused() -> None:
    """A crack grows at one place: ranges of the largest magnitude of several would be nobody's."""
    structure = truck()
    outputs = tuple(
        dataclasses.replace(output, item="bracket", place=output.item)
        if output.quantity == "bracket_stress"
        else output
        for output in structure.outputs
    )
    with pytest.raises(ValueError, match=r"over 2 places.*name the places as items"):
        make_recorder(outputs, cycles={("bracket_stress", "bracket"): Bins(0.0, 1e8, 10)})
    with pytest.raises(ValueError, match="bins from -1"):
        make_recorder(structure.outputs, cycles={ASKED[0]: Bins(-1.0, 1e8, 10)})
    with pytest.raises(ValueError, match=r"\[10, 20\] bins"):
        make_recorder(structure.outputs, cycles={ASKED[0]: Bins(0.0, 1e8, 10), ASKED[1]: Bins(0.0, 1e8, 20)})
