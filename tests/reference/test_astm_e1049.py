"""ASTM E1049-85, Standard practices for cycle counting in fatigue analysis: rainflow counts.

The example of the standard (figure 6): history -2, 1, -3, 5, -1, 3, -4, 4, -2. Random histories against the package
`rainflow`, which follows the standard's three-point form. The gate is below every reversal, so counts must be equal.
"""

import numpy as np
import pytest
import rainflow

from crossaxle.sim.rainflow import finish, follow, new_rainflow

EXAMPLE = np.array([-2.0, 1, -3, 5, -1, 3, -4, 4, -2])


def counted(history, width=1.0, bins=64, pieces=1):
    flow = new_rainflow(np.array([width]), bins)
    for piece in np.array_split(np.asarray(history, float), pieces):
        follow(flow, 0, piece)
    finish(flow)
    return flow.half_cycles[0] / 2


@pytest.mark.parametrize("pieces", [1, 3, 9])
def test_example_of_the_standard(pieces, checked):
    counts = counted(EXAMPLE, pieces=pieces)
    expected = {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}
    assert {i: c for i, c in enumerate(counts) if c} == expected
    worst = max(abs(c - expected.get(i, 0.0)) for i, c in enumerate(counts))
    checked("rainflow counts", "ASTM E1049-85, example", worst, "cycles")


@pytest.mark.parametrize("seed", range(20))
def test_random_histories(seed, checked):
    rng = np.random.default_rng(seed)
    history = rng.integers(-30, 30, 3000).astype(float)
    expected = np.zeros(64)
    for size, cycles in rainflow.count_cycles(history):
        expected[int(size)] += cycles
    counts = counted(history)
    np.testing.assert_array_equal(counts, expected)
    checked(
        "rainflow counts, 20 random histories", "package rainflow", np.abs(counts - expected).max(), "cycles"
    )


def test_points_between_the_turning_points_count_for_nothing():
    fine = np.interp(np.linspace(0, 8, 801), np.arange(9), EXAMPLE)
    np.testing.assert_array_equal(counted(fine), counted(EXAMPLE))


def test_reversals_within_the_gate_are_passed_over():
    """Half a bin of ripple on a large cycle leaves that cycle alone."""
    wave = 10 * np.sin(np.linspace(0, 20 * np.pi, 4001)) + 0.2 * np.sin(
        np.linspace(0, 4000 * np.pi, 4001) + 0.3
    )
    counts = counted(wave, width=1.0)
    assert counts[:15].sum() <= 1.5  # the start and the end of the history only
    assert counts[18:].sum() == pytest.approx(10, abs=1)


def test_ever_growing_waves_do_not_run_out_of_room():
    growing = np.arange(3000) * (-1.0) ** np.arange(3000)
    counts = counted(growing, width=10.0, bins=1000)
    assert counts.sum() == pytest.approx(2999 / 2, abs=3)  # the first few lie within the gate
