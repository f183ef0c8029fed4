"""Uncertain values of the vehicle file: their distributions, and one draw of all of them per sample.

The draws are points of a scrambled Sobol sequence (Owen, J. Complexity 14, 1998, 466-489, as scipy.stats.qmc has it),
which fill the space of all values evenly. Point k belongs to sample k, whatever the number of samples, workers and
candidates, so that all candidates are compared with the same values and a study can be extended.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, model_validator

from crossaxle.arrays import Array
from crossaxle.studies.inputs.units import quantity_of, shown

Value = str | Annotated[float, Field(strict=False)]


def number(value: Value) -> tuple[float, str]:
    """SI value and unit of a quantity or a plain number (unit ``1``); ValueError if it is neither."""
    if not isinstance(value, str):
        return float(value), "1"
    quantity = quantity_of(value)
    if quantity is None:
        raise ValueError(f'{shown(value)} is no quantity; write a number with its unit, e.g. "290 N/mm"')
    return quantity


class UncertainValue(BaseModel):
    """Common rules: every value of one unit, what it draws follows from a number between 0 and 1."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    def values(self) -> Sequence[Value]:
        """Values of the entry that must be of one kind."""
        return [value for name, value in self if name not in ("kind", "spread", "weights")]

    @property
    def unit(self) -> str:
        """SI unit; ``1`` for plain numbers."""
        return number(self.values()[0])[1]

    @model_validator(mode="after")
    def _one_unit(self) -> Self:
        units = {number(value)[1] for value in self.values()}
        if len(units) > 1:
            raise ValueError(f"mixes the units {sorted(units)}; allowed is one kind of quantity")
        self.at(np.array([0.5]))
        return self

    def at(self, share: Array) -> Array:
        """Values in SI below which the given shares (k,) of all values lie, (k,)."""
        raise NotImplementedError


class Normal(UncertainValue):
    """Normal distribution; it has no bounds, so keep its spread small against its mean."""

    kind: Literal["normal"]
    mean: Value
    deviation: Value

    def at(self, share: Array) -> Array:
        """See `Distribution.at`."""
        from scipy.special import ndtri

        return np.asarray(number(self.mean)[0] + _positive("deviation", self.deviation) * ndtri(share))


class Lognormal(UncertainValue):
    """Lognormal distribution; ``spread`` is the standard deviation of the logarithm."""

    kind: Literal["lognormal"]
    median: Value
    spread: Annotated[float, Field(gt=0, le=3, strict=False)]

    def at(self, share: Array) -> Array:
        """See `Distribution.at`."""
        from scipy.special import ndtri

        return np.asarray(_positive("median", self.median) * np.exp(self.spread * ndtri(share)))


class Uniform(UncertainValue):
    """Uniform distribution between two values."""

    kind: Literal["uniform"]
    least: Value
    most: Value

    def at(self, share: Array) -> Array:
        """See `Distribution.at`."""
        least, most = number(self.least)[0], number(self.most)[0]
        if not least < most:
            raise ValueError(f"least is {least:g}, most {most:g}; least must lie below most")
        return least + (most - least) * share


class Triangular(UncertainValue):
    """Triangular distribution: least, likeliest and greatest value."""

    kind: Literal["triangular"]
    least: Value
    likeliest: Value
    most: Value

    def at(self, share: Array) -> Array:
        """See `Distribution.at`."""
        from scipy.stats import triang

        least, mode, most = (number(v)[0] for v in (self.least, self.likeliest, self.most))
        if not (least <= mode <= most and least < most):
            raise ValueError(f"found {least:g}, {mode:g}, {most:g}; allowed least <= likeliest <= most")
        width = most - least
        return np.asarray(triang.ppf(share, (mode - least) / width, least, width))


class Discrete(UncertainValue):
    """One of several values; ``weights`` are their shares (equal if left out)."""

    kind: Literal["discrete"]
    among: Annotated[list[Value], Field(min_length=2, max_length=100)]
    weights: list[Annotated[float, Field(gt=0, strict=False)]] | None = None

    def values(self) -> Sequence[Value]:
        """See `Distribution.values`."""
        return self.among

    def at(self, share: Array) -> Array:
        """See `Distribution.at`."""
        weights = self.weights or [1.0] * len(self.among)
        if len(weights) != len(self.among):
            raise ValueError(f"has {len(self.among)} values but {len(weights)} weights; give one for each")
        edges = np.cumsum(weights) / np.sum(weights)
        places = np.minimum(np.searchsorted(edges, share, side="right"), len(self.among) - 1)
        return np.array([number(value)[0] for value in self.among])[places]


AnyDistribution = Annotated[Normal | Lognormal | Uniform | Triangular | Discrete, Field(discriminator="kind")]


def _positive(name: str, value: Value) -> float:
    found = number(value)[0]
    if not found > 0:
        raise ValueError(f"{name} is {shown(value)}; it must be above 0")
    return found


def draw(uncertain: Mapping[str, UncertainValue], seed: int, sample: int) -> Array:
    """Values of one sample in SI, one per uncertain key, (keys,)."""
    point = _points(len(uncertain), seed, sample // BLOCK)[sample % BLOCK]
    return np.array([one.at(share[None])[0] for one, share in zip(uncertain.values(), point, strict=True)])


def middles(uncertain: Mapping[str, UncertainValue]) -> Array:
    """Medians in SI, one per uncertain key, (keys,)."""
    return np.array([one.at(np.array([0.5]))[0] for one in uncertain.values()])


def overrides(uncertain: Mapping[str, UncertainValue], drawn: Array) -> dict[str, Any]:
    """Drawn values as they would stand in the vehicle file."""
    return {
        key: float(value) if one.unit == "1" else f"{float(value)!r} {one.unit}"
        for (key, one), value in zip(uncertain.items(), drawn, strict=True)
    }


BLOCK = 1024
"""Points of the sequence made at once."""


@lru_cache(maxsize=4)
def _points(dimensions: int, seed: int, block: int) -> Array:
    from scipy.stats import qmc

    sequence = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed))
    if block:
        sequence.fast_forward(block * BLOCK)
    return np.clip(sequence.random(BLOCK), 1e-12, 1 - 1e-12)
