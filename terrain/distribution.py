"""Random sizes of obstacles: fixed, uniform, or lognormal with an upper bound.

In the course file:
``"0.3 m"``, ``{ from = "0.2 m", to = "0.5 m" }`` or ``{ median = "0.3 m", spread = 0.4, most = "0.8 m" }``.
"""

from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BeforeValidator, InstanceOf, ValidationInfo
from scipy.special import ndtr, ndtri

from crossaxle.arrays import Array
from crossaxle.terrain.quantity import convert

_FORMS = "write one value, { from = ..., to = ... } or { median = ..., spread = 0.4, most = ... }"


@dataclass(frozen=True)
class Distribution:
    """Distribution of a size, in SI units.

    Attributes
    ----------
    kind : {"fixed", "uniform", "lognormal"}
    low, high : float
        Bounds. Fixed: both the value. Lognormal: zero and the largest value allowed.
    median, spread : float
        Of the lognormal before it is cut at `high`; spread is the standard deviation of the logarithm.
    """

    kind: Literal["fixed", "uniform", "lognormal"]
    low: float
    high: float
    median: float = 0.0
    spread: float = 0.0

    @property
    def middle(self) -> float:
        """Median."""
        return self.median if self.kind == "lognormal" else (self.low + self.high) / 2

    def draw(self, rng: np.random.Generator, count: int) -> Array:
        """Draw `count` values, (count,)."""
        share = rng.random(count)
        if self.kind == "lognormal":
            below = ndtr(np.log(self.high / self.median) / self.spread)
            # 1 - share lies in (0, 1], so that the logarithm stays finite
            return np.asarray(self.median * np.exp(self.spread * ndtri(below * (1 - share))), float)
        return self.low + (self.high - self.low) * share


def fixed(value: float) -> Distribution:
    """Distribution that always gives `value`."""
    return Distribution("fixed", value, value)


def uniform(low: float, high: float) -> Distribution:
    """Uniform distribution between two bounds."""
    return Distribution("uniform", low, high)


def lognormal(median: float, spread: float, most: float) -> Distribution:
    """Lognormal distribution, cut off (not clipped) at `most`."""
    return Distribution("lognormal", 0.0, most, median, spread)


MOST = 1000.0
"""Larger obstacles, or distances between them, are refused; so are larger numbers of other kinds."""


def _checked(unit: str, least: float) -> BeforeValidator:
    """Make a validator for a distribution of values in `unit`, none below `least` or above `MOST`."""

    def validate(value: Any, info: ValidationInfo) -> Distribution:
        found = value if isinstance(value, Distribution) else _parsed(value, unit, info)
        if found.kind != "lognormal" and found.low < least:
            raise ValueError(
                f"gives values down to {found.low:g} {unit}; allowed is {least:g} {unit} and above"
            )
        if found.high > MOST:
            raise ValueError(f"gives values up to {found.high:g} {unit}; allowed is at most {MOST:g} {unit}")
        return found

    return BeforeValidator(validate)


def _parsed(value: Any, unit: str, info: ValidationInfo) -> Distribution:
    if not isinstance(value, dict):
        return fixed(convert(value, unit, info))
    if set(value) == {"from", "to"}:
        low, high = convert(value["from"], unit, info), convert(value["to"], unit, info)
        if low > high:
            raise ValueError(f"runs from {low:g} to {high:g}; write the smaller value first")
        return uniform(low, high)
    if set(value) == {"median", "spread", "most"}:
        median, most = convert(value["median"], unit, info), convert(value["most"], unit, info)
        spread = convert(value["spread"], "1", info)
        if not (0 < median < most and spread > 0):
            raise ValueError("needs a median above zero, most above the median and a spread above zero")
        return lognormal(median, spread, most)
    raise ValueError(f"has the keys {', '.join(sorted(value)) or 'none'}; {_FORMS}")


PositiveLength = Annotated[InstanceOf[Distribution], _checked("m", 1e-3)]
AnyDistance = Annotated[InstanceOf[Distribution], _checked("m", 0.0)]
AnyAngle = Annotated[InstanceOf[Distribution], _checked("rad", 0.0)]
