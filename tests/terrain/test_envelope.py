"""The tyre's envelope against closed forms, against a plain double loop, and for what must hold on any ground."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from crossaxle.terrain.envelope import contact_weights, disc_offsets, envelope, margin
from tests.shortcuts import contact_transfer

SINGLE = 2e-6
"""Single precision on heights up to some metres [m]."""


def slow_envelope(z: np.ndarray, spacing: float, radius: float, contact_length: float) -> np.ndarray:
    """Readable reference in double precision: roll, then average, point by point."""
    k = int(np.floor(radius / spacing * (1 + 1e-12)))
    rolled = []
    for i in range(k, z.size - k):
        touch = [
            z[i + j] + np.sqrt(max(radius**2 - (j * spacing) ** 2, 0.0)) - radius for j in range(-k, k + 1)
        ]
        rolled.append(max(touch))
    if contact_length == 0:
        return np.array(rolled)
    # windows of odd numbers of points, mixed for the second moment (l/s)^2/12 of a continuous average
    cells = contact_length / spacing
    wide = next(n for n in range(3, 99, 2) if (n**2 - 1) >= cells**2 - 1e-9)
    share = (cells**2 - ((wide - 2) ** 2 - 1)) / ((wide**2 - 1) - ((wide - 2) ** 2 - 1))
    windows = [rolled[i : i + wide] for i in range(len(rolled) - wide + 1)]
    return np.array([share * np.mean(w) + (1 - share) * np.mean(w[1:-1]) for w in windows])


@pytest.mark.parametrize("radius", [0.0, 0.2, 0.45, 0.5, 0.613])
@pytest.mark.parametrize("contact_length", [0.0, 0.05, 0.15, 0.3, 0.37])
def test_same_as_the_readable_double_loop(radius: float, contact_length: float) -> None:
    z = np.random.default_rng(1).normal(0, 0.3, (2, 1500))
    found = envelope(z, 0.05, radius, contact_length)
    for line in range(2):
        expected = slow_envelope(z[line], 0.05, radius, contact_length)
        np.testing.assert_allclose(found[line], expected, atol=SINGLE)
    assert found.shape[1] == z.shape[1] - 2 * margin(0.05, radius, contact_length)


@pytest.mark.parametrize("height", [0.1, 0.3, 0.49])
def test_disc_over_a_step(height: float) -> None:
    """A disc touches the edge before the step: e(x) = max(0, h - R + sqrt(R^2 - x^2)), -R < x < 0."""
    radius, spacing = 0.5, 0.05
    x = spacing * np.arange(-100, 101)
    ground = np.where(x >= -1e-9, height, 0.0)
    found = envelope(ground[None], spacing, radius, 0.0)[0]
    x = x[margin(spacing, radius, 0.0) : -margin(spacing, radius, 0.0)]
    near = np.sqrt(np.maximum(radius**2 - x**2, 0.0)) + height - radius
    expected = np.where(x >= -1e-9, height, np.where(x > -radius, np.maximum(0.0, near), 0.0))
    np.testing.assert_allclose(found, expected, atol=SINGLE)


@pytest.mark.parametrize(("amplitude", "wave"), [(0.05, 2.0), (0.02, 1.2), (0.2, 6.0)])
def test_disc_over_a_sine(amplitude: float, wave: float) -> None:
    """The disc's centre runs on the parallel curve: contact at s, centre at s - R z'/N, z + R/N, N^2 = 1 + z'^2.

    Valid while the ground's curvature A k^2 stays below 1/R, so that it touches at one point. The disc touches grid
    points only and so lies up to spacing^2/(8 R) and a curvature of ground too low.
    """
    radius, spacing = 0.5, 0.01
    k = 2 * np.pi / wave
    assert amplitude * k**2 < 1 / radius
    x = spacing * np.arange(2000)
    found = envelope(amplitude * np.sin(k * x)[None], spacing, radius, 0.0)[0]
    x = x[margin(spacing, radius, 0.0) :][: found.size]
    s = np.linspace(x[0] - radius, x[-1] + radius, 200_001)
    slope = amplitude * k * np.cos(k * s)
    norm = np.sqrt(1 + slope**2)
    expected = np.interp(x, s - radius * slope / norm, amplitude * np.sin(k * s) + radius / norm - radius)
    sag = spacing**2 / 8 * (1 / radius + amplitude * k**2)
    assert np.all(found <= expected + SINGLE)
    assert np.all(found >= expected - sag - SINGLE)


def test_disc_bridges_a_narrow_ditch() -> None:
    """A gap of width b between two edges lets the disc sink by R - sqrt(R^2 - b^2/4) at its middle."""
    radius, spacing = 0.5, 0.05
    x = spacing * np.arange(-60, 61)
    ground = np.where(np.abs(x) < 0.2 - 1e-9, -1.0, 0.0)
    found = envelope(ground[None], spacing, radius, 0.0)[0]
    assert found.min() == pytest.approx(-(radius - np.sqrt(radius**2 - 0.2**2)), abs=SINGLE)


@pytest.mark.parametrize("contact_length", [0.1, 0.25, 0.3, 0.42])
def test_contact_average_of_a_sine(contact_length: float) -> None:
    """A wave is reduced by the gain of the weights, and that is sin(pi n l)/(pi n l) to 1 % of full size or better."""
    spacing = 0.05
    for n in (0.1, 0.5, 2.0):
        x = spacing * np.arange(4000)
        found = envelope(np.sin(2 * np.pi * n * x)[None], spacing, 0.0, contact_length)[0]
        edge = margin(spacing, 0.0, contact_length)
        gain = float(contact_transfer(n, spacing, contact_length))
        expected = gain * np.sin(2 * np.pi * n * x[edge : x.size - edge])
        np.testing.assert_allclose(found, expected, atol=SINGLE)
        # the fourth moments differ, so the gain errs with the fourth power of n
        assert gain == pytest.approx(np.sinc(n * contact_length), abs=0.01 * (n / 2) ** 4 + 1e-9)


@settings(max_examples=60, deadline=None)
@given(
    arrays(np.float64, 160, elements=st.floats(-2, 2, width=32)),
    st.floats(0.2, 0.9),
    st.floats(-5, 5),
)
def test_what_holds_on_any_ground(z: np.ndarray, radius: float, shift: float) -> None:
    spacing = 0.05
    edge = margin(spacing, radius, 0.0)
    found = envelope(z[None], spacing, radius, 0.0)[0]
    ground = z[edge : z.size - edge]
    assert np.all(found >= ground - SINGLE), "the disc never lies below the ground"
    assert found.max() <= z.max() + SINGLE, "nor above its highest point"
    lifted = envelope(z[None] + shift, spacing, radius, 0.0)[0]
    np.testing.assert_allclose(lifted, found + shift, atol=SINGLE)
    reverse = envelope(z[None, ::-1], spacing, radius, 0.0)[0]
    np.testing.assert_array_equal(reverse[::-1], found)
    larger = envelope(z[None], spacing, 0.9, 0.0)[0]
    trim = margin(spacing, 0.9, 0.0) - edge
    assert np.all(larger >= found[trim : found.size - trim] - SINGLE), "a larger disc rides higher"


def test_flat_ground_stays_flat() -> None:
    np.testing.assert_allclose(envelope(np.full((1, 300), 0.7), 0.05, 0.6, 0.3), 0.7, atol=1e-7)


@pytest.mark.parametrize("contact_length", [0.0, 0.05, 0.1, 0.12, 0.3, 0.37])
def test_contact_weights_add_up(contact_length: float) -> None:
    weights = contact_weights(0.05, contact_length)
    places = 0.05 * (np.arange(weights.size) - weights.size // 2)
    assert weights.sum() == pytest.approx(1)
    assert weights @ places**2 == pytest.approx(contact_length**2 / 12)
    np.testing.assert_allclose(weights, weights[::-1])
    assert np.all(weights > 0)


def test_disc_reaches_a_rim_that_lies_on_the_grid() -> None:
    offsets = disc_offsets(0.05, 0.6)
    assert offsets.size == 25
    assert offsets[0] == pytest.approx(-0.6)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((0.2, 0.5, 0.3), r"0.2 m apart are too coarse for a tyre of radius 0.5 m; use at most 0.125 m"),
        ((0.1, 0.5, 0.05), r"too coarse for a contact length of 0.05 m; use at most 0.05 m"),
        ((0.1, -0.5, 0.05), r"radius -0.5 m, contact length 0.05 m: neither may be negative"),
        ((0.05, 5.0, 0.5), r"200 points of ground are too few for a tyre that reaches over 211"),
    ],
)
def test_errors(arguments: tuple[float, float, float], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        envelope(np.zeros((1, 200)), *arguments)
