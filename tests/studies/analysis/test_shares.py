"""Shares of distance from histograms: counted by hand on a small Dataset."""

import numpy as np
import pytest
import xarray as xr

from crossaxle.studies.analysis.shares import level_at, shares


def small(counts: list[float], width: float = 1.0, first: float = -1.5) -> xr.Dataset:
    """One candidate, one course, 20 equal folds of the given counts."""
    bins = first + width * np.arange(len(counts))
    histogram = np.tile(np.array(counts, float), (1, 20, 1))
    return xr.Dataset(
        {
            "distance": (("course", "sample"), np.ones((1, 20))),
            "x_histogram": (("course", "fold", "x_bin"), histogram),
        },
        coords={"x_bin": ("x_bin", bins, {"bin_width": width, "units": "m"})},
    )


def test_shares_below_above_and_beyond():
    """Bins centred at -1.5, -0.5, 0.5, 1.5 with 1, 2, 3, 4 counts."""
    ds = small([1, 2, 3, 4])
    below = shares(ds, "x", "below")
    assert below.at.tolist() == [-1, 0, 1, 2]
    assert below.share.value[0, 0].tolist() == pytest.approx([0.1, 0.3, 0.6, 1.0])
    above = shares(ds, "x", "above")
    assert above.at.tolist() == [-2, -1, 0, 1]
    assert above.share.value[0, 0].tolist() == pytest.approx([1.0, 0.9, 0.7, 0.4])
    beyond = shares(ds, "x", "beyond")
    assert beyond.at.tolist() == [0, 1]
    assert beyond.share.value[0, 0].tolist() == pytest.approx([1.0, 0.5])


@pytest.mark.parametrize("counts, first", [([1, 2, 3, 4], -2.5), ([4, 3, 2, 1], -0.5)])
def test_beyond_where_the_bins_reach_further_to_one_side(counts, first):
    """Centres -2.5 to 0.5, or their mirror image: 1 is beyond 2, 3 are beyond 1, only on the longer side."""
    beyond = shares(small(counts, first=first), "x", "beyond")
    assert beyond.at.tolist() == [0, 1, 2]
    assert beyond.share.value[0, 0].tolist() == pytest.approx([1.0, 0.3, 0.1])


def test_levels_never_reached_are_blank_and_shares_stay_within_one():
    found = shares(small([0, 5, 5, 0]), "x", "above").share
    assert np.isnan(found.value[0, 0, 3]) and np.isnan(found.high[0, 0, 3])
    assert np.nanmax(found.high) <= 1.0


def test_level_with_a_given_share():
    at, share = np.array([0.0, 1.0, 2.0]), np.array([1.0, 0.1, 0.01])
    assert level_at(at, share, 0.1) == pytest.approx(1.0)
    assert level_at(at, share, 10**-1.5) == pytest.approx(1.5)
    assert np.isnan(level_at(at, np.full(3, np.nan), 0.1))
