"""Readings of a pedestal test: units, what was measured, pairs, and what is wrong said by line."""

import math

import pytest

from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pedestal.readings import Reading, read_readings, together

HEAD = "height,under,measured,value,uncertainty,direction\n"
FIRST = "200 mm,front right and rear left,"


def written(tmp_path, text):
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_units_and_words(tmp_path):
    rows = (
        f"{HEAD}{FIRST}twist front axle to rear axle - 0.3 m,-3.9 deg,0.1 deg,raising\n"
        f"{FIRST}wheel load front left,2110 kg,10 kg,\n"
        f"{FIRST}wheel load rear left,20.5 kN,100 N,Lowering\n"
        f"0.2 m,front right,gap cab back to body,228 mm,2 mm\n"
    )
    twist, scale, force, gap = read_readings(written(tmp_path, rows))
    assert (twist.kind, twist.of) == ("twist", "front axle to rear axle - 0.3 m")
    assert twist.value == pytest.approx(math.radians(-3.9))
    assert twist.under == ("front right", "rear left")
    assert twist.height == pytest.approx(0.2)
    assert scale.value == pytest.approx(2110 * 9.80665)
    assert scale.uncertainty == pytest.approx(98.0665)
    assert (force.value, force.uncertainty, force.direction) == (20500, 100, "lowering")
    assert (gap.of, gap.value, gap.under) == ("cab back to body", 0.228, ("front right",))
    assert [r.rows for r in (twist, scale, force, gap)] == [(2,), (3,), (4,), (5,)]


def test_rows_without_a_value_are_left_out(tmp_path):
    rows = f"{HEAD}{FIRST}wheel load front left,,100 N,raising\n\n{FIRST}wheel load rear left,1 kN,100 N,raising\n"
    (reading,) = read_readings(written(tmp_path, rows))
    assert reading.of == "rear left"
    with pytest.raises(InputError, match="holds no reading"):
        read_readings(written(tmp_path, HEAD))


def test_columns_in_any_order_and_semicolons(tmp_path):
    rows = "measured;value;uncertainty;under;height\nwheel load rear left;1 kN;0.1 kN;front right;100 mm\n"
    (reading,) = read_readings(written(tmp_path, rows))
    assert (reading.value, reading.height, reading.direction) == (1000, 0.1, "")


@pytest.mark.parametrize(
    ("row", "message"),
    [
        (f"{FIRST}wheel load front left,2110,10 kg,", 'line 2: value: "2110" is a bare number'),
        (f"{FIRST}wheel load front left,3 mm,10 kg,", "line 2: value: .*a force"),
        (f"{FIRST}wheel load front left,20 kN,,", "line 2: uncertainty: is empty"),
        (f"{FIRST}wheel load front left,20 kN,0 kN,", "line 2: uncertainty: .* more than 0"),
        (
            f"{FIRST}wheel load front left,20 kN,1 kN,up",
            'line 2: direction: found "up"; allowed are raising, lower',
        ),
        (
            f"{FIRST}tilt front,2 deg,1 deg,",
            'line 2: measured: found "tilt front"; allowed are "wheel load WHEEL"',
        ),
        (f"{FIRST}twist front axle,2 deg,1 deg,", 'line 2: measured: found "twist front axle"'),
        ("200 mm,,wheel load front left,20 kN,1 kN,", "line 2: under: is empty"),
        ("200,front left,wheel load front left,20 kN,1 kN,", 'line 2: height: "200" is a bare number'),
        (
            f"{FIRST}wheel load front left,20,5 kN,1 kN,",
            "line 2: has 7 cells for 6 columns; write decimal points",
        ),
    ],
)
def test_what_is_wrong_is_said_by_line(tmp_path, row, message):
    with pytest.raises(InputError, match=message):
        read_readings(written(tmp_path, HEAD + row + "\n"))


def test_wrong_columns(tmp_path):
    with pytest.raises(
        InputError, match='line 1: found columns "height, value"; allowed are height, under, measured'
    ):
        read_readings(written(tmp_path, "height,value\n1 m,2 kN\n"))


def test_pairs_become_their_mean_with_half_the_difference():
    def one(value, direction, height=0.2):
        return Reading((2,), height, ("front right",), "wheel load", "rear left", value, 30.0, direction)

    (pair,) = together([one(1000.0, "raising"), one(1200.0, "lowering")])
    assert pair.value == 1100
    # Two instruments' errors average to 30/sqrt(2), and the springs add 100.
    assert pair.uncertainty == pytest.approx(math.hypot(30 / math.sqrt(2), 100))
    assert pair.direction == "both"
    assert pair.rows == (2, 2)


def test_a_single_way_takes_the_friction_of_pairs_at_other_heights():
    def one(value, direction, height):
        return Reading((2,), height, ("front right",), "wheel load", "rear left", value, 30.0, direction)

    _, top = together([one(1000.0, "raising", 0.1), one(1200.0, "lowering", 0.1), one(900.0, "raising", 0.2)])
    assert top.value == 900
    assert top.uncertainty == pytest.approx(math.hypot(30, 100))
    (alone,) = together([one(900.0, "raising", 0.2)])
    assert (alone.uncertainty, alone.direction) == (30, "raising")


def test_other_wheels_on_pedestals_are_another_thing():
    readings = [
        Reading((i,), 0.2, under, "wheel load", "rear left", 1000.0, 30.0)
        for i, under in enumerate(
            [("front right", "rear left"), ("rear left", "front right"), ("front left",)]
        )
    ]
    assert [reading.rows for reading in together(readings)] == [(0, 1), (2,)]
