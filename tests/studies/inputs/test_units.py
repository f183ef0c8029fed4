"""Quantities: values against a table written by hand, and what is said of wrong ones."""

import math

import pytest

from crossaxle.studies.inputs.units import quantity_of, si

VALUES = [
    ("4.5 m", "m", 4.5),
    ("850 mm", "m", 0.85),
    ("-3 cm", "m", -0.03),
    ("1 km", "m", 1000.0),
    ("1.2 t", "kg", 1200.0),
    ("12 kN", "N", 12e3),
    ("250 N/mm", "N/m", 250e3),
    ("1 kN*m/deg", "N*m/rad", 1000 * 180 / math.pi),
    ("1 kN.m/deg", "N*m/rad", 1000 * 180 / math.pi),
    ("2 kNm", "N*m", 2000.0),
    ("90 deg", "rad", math.pi / 2),
    ("90°", "rad", math.pi / 2),
    ("210 GPa", "Pa", 210e9),
    ("235 N/mm2", "Pa", 235e6),
    ("4.5 bar", "Pa", 450e3),
    ("9070 cm6", "m6", 9070e-12),
    ("36 cm³", "m**3", 36e-6),
    ("10 %", "1", 0.1),
    (0.1, "1", 0.1),
    ("0.1 cycle/m", "cycle/m", 0.1),
    ("3 1/km", "1/m", 0.003),
    ("3 /km", "1/m", 0.003),
    ("1_000 m", "m", 1000.0),
    ("1e-3 m", "m", 0.001),
]


@pytest.mark.parametrize(("text", "unit", "value"), VALUES)
def test_value(text: object, unit: str, value: float) -> None:
    assert si(text, unit) == pytest.approx(value, rel=1e-14)


WRONG = [
    (4.5, "m", '4.5 is a bare number; write a length with its unit, e.g. "4.5 m"'),
    ("4.5", "m", "is a bare number"),
    (True, "m", "true is not a quantity"),
    (True, "1", "true is not a quantity"),
    (["1 m"], "m", "a list is not a quantity"),
    ("4.5 kg", "m", '"4.5 kg" is a mass; a length is needed'),
    ("3 rad", "1", "is an angle; a share is needed"),
    ("10 %", "rad", "is a share; an angle is needed"),
    ("4.5 MM", "m", "did you mean mm?"),
    ("20 degrees C", "rad", "unknown unit"),
    ("4.5 furlong", "m", "units: m, cm, mm, km"),
    ("4,5 m", "m", "write a decimal point"),
    ("1e999 m", "m", "not a finite number"),
    ("nan m", "m", "is not a number with a unit"),
    (math.inf, "1", "not a finite number"),
    (10**400, "1", "not a finite number"),
    ("9" * 200 + " m", "m", "is not a number with a unit"),
    ("__import__('os') m", "m", "is not a number with a unit"),
]


@pytest.mark.parametrize(("value", "unit", "said"), WRONG)
def test_wrong(value: object, unit: str, said: str) -> None:
    with pytest.raises(ValueError) as error:
        si(value, unit)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_millimetres_are_exact() -> None:
    assert all(si(f"{n} mm", "m") == n / 1000 for n in range(5000))


def test_quantities_of_any_kind() -> None:
    assert quantity_of("380 cm") == (3.8, "m")
    assert quantity_of("rear axle - 0.85 m") is None
    assert quantity_of("rigid") is None
    assert quantity_of("5") is None
    assert quantity_of(5.0) is None
