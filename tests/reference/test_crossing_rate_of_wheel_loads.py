"""Rice, Bell Syst. Tech. J. 23-24 (1944-45): the main job against a closed form.

Linearised gravity, no rolling disc (the contact average stays, it is a filter) and linear laws make every wheel load a
linear filter of Gaussian ground, so that the rate at which it falls below a level follows from the spectrum alone: by
the bivariate normal for points 5 cm apart, and by Rice's formula (written out in rice_formula.py), from which such
points lose about 1 % for a band up to 2 cycle/m. The sampled counts must meet the closed form within their own
confidence interval.
"""

import dataclasses

import numpy as np
import pytest

from crossaxle.sim.recorder import WheelEvents, make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.terrain.closed_form import HeightCombination, Process
from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.course import Course, CourseSection, Roughness
from crossaxle.terrain.envelope import envelope, margin
from crossaxle.terrain.ground import lay_ground
from tests.reference.rice_formula import combination_power, rice_upcrossings
from tests.shortcuts import contact_transfer, run_sample, wheel_lines

SPACING, CONTACT, KILOMETRES = 0.05, 0.30, 240
LEVEL = 0.45  # of the static load, low enough to be a tail, high enough to be counted


def linear(structure):
    """The structure with every force law on its reference segment: wheels that pull as well as push."""
    none = slice(0, 0)
    return dataclasses.replace(
        structure,
        hinge_row=structure.hinge_row[none],
        hinge_ground=structure.hinge_ground[none],
        hinge_offset=structure.hinge_offset[none],
        hinge_stiffness=structure.hinge_stiffness[none],
        output_hinge=structure.output_hinge[:, none],
        hinge_names=(),
    )


@pytest.fixture(scope="module")
def counted(clinic):
    vehicle = clinic({"mount": "rigid"})
    model = reduce(linear(vehicle.structure))
    rough = Roughness(iso_class="H", band_from=0.05, band_to=2.0)
    band = rough.spectrum()
    course = Course("closed form", {"all": CourseSection(share=1, roughness=rough)})
    lines = (1.025, -1.025)
    n, lead = 20_000, 100
    recorder = make_recorder(
        model.outputs, events=WheelEvents(start=LEVEL, end=LEVEL, shortest=0.0, free=0.0)
    )
    counts = []
    for sample in range(KILOMETRES):
        edge = margin(SPACING, 0.0, CONTACT)
        ground = lay_ground(course, lines, SPACING, n, 11, sample, lead + edge, edge)
        heights = envelope(ground.heights, SPACING, 0.0, CONTACT)
        flat = np.zeros(lead + n)
        tracks = WheelTracks(
            heights, wheel_lines(model.wheel_y, np.array(lines)), SPACING, flat, flat, lead, (Segment(0, n),)
        )
        counts.append(run_sample([model], tracks, recorder, linearised=True).unload_events)
    return model, band, np.array(counts)


def process(model, band, wheel):
    """The wheel's load as a combination of the four wheels' ground heights."""
    plane = model.plane
    per_height = (
        -9.80665 * np.outer(model.output_input[wheel, 0], plane.slope_x)
        - 9.80665 * np.outer(model.output_input[wheel, 1], plane.slope_y)
        + model.output_input[wheel, 3:] @ plane.warp.T
    ).ravel()
    combination = HeightCombination(tuple(-model.wheel_station), tuple(model.wheel_y), tuple(per_height))
    return Process(combination, band, Coherence(), gain=lambda n: contact_transfer(n, SPACING, CONTACT))


@pytest.mark.parametrize("wheel", range(4))
def test_wheel_loads_fall_below_a_level_at_the_closed_forms_rate(counted, wheel, checked):
    model, band, counts = counted
    static = model.output_constant[wheel] - 9.80665 * model.output_input[wheel, 2]
    below = static * (1 - LEVEL)
    closed = process(model, band, wheel)
    expected = 1e3 * closed.sampled_rate(below, SPACING)
    rate, error = counts[:, wheel].mean(), counts[:, wheel].std(ddof=1) / np.sqrt(len(counts))
    # 3 standard errors: with four wheels one false alarm in about a hundred seeds.
    assert abs(rate - expected) < 3 * error
    assert counts[:, wheel].sum() > 100
    places = closed.combination
    power = combination_power(
        lambda n: 262144e-6 * (n / 0.1) ** -2.0 * contact_transfer(n, SPACING, CONTACT) ** 2,
        places.x,
        places.y,
        places.factor,
    )
    rice = 1e3 * rice_upcrossings(power, 0.05, 2.0, below)
    assert expected == pytest.approx(rice, rel=0.02)
    checked(
        "rate of wheel unloading, linear vehicle, 240 km of class H",
        "closed form (bivariate normal)",
        abs(rate - expected) / error,
        "standard errors",
    )
    checked(
        "closed-form rate of wheel unloading at 5 cm spacing",
        "Rice 1944-45, formula by quadrature",
        abs(expected / rice - 1),
    )
