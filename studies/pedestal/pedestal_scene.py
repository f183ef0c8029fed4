"""A truck on pedestals, ready to be looked at: a flat floor with a block under each raised wheel."""

import math

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.posture import Posture
from crossaxle.studies.pedestal.pedestal_test import Pedestal
from crossaxle.studies.posture.ground_surface import Surface
from crossaxle.studies.posture.replay import Standing
from crossaxle.studies.posture.scene import Scene, SceneMaker

HALF_LENGTH, HALF_WIDTH = 0.40, 0.26
"""Half the length and width of a drawn pedestal [m]."""

EDGE = 0.01
"""Breadth of its drawn sides [m]."""

BESIDE, BEYOND = 0.9, 3.0
"""Floor drawn beside the wheels, and laid before and behind them [m]."""

SPACING = 0.01


def pedestal_scene(test: Pedestal, number: int) -> Scene:
    """Put the truck into the posture of one height of a test; heights in the scene count from the floor."""
    height, posture = test.heights[number], test.postures[number]
    # Heights are counted from where the maker's own standing has its front axle: on the floor.
    maker = SceneMaker(_standing(test, posture, np.zeros(len(test.wheels))), _surface(test, height))
    return maker.scene(_standing(test, posture, test.ground(height)))


def _standing(test: Pedestal, posture: Posture, ground: Array) -> Standing:
    return Standing(0, 0, 0, 0, 0.0, test.vehicle, posture, ground, test.slope)


def _surface(test: Pedestal, height: float) -> Surface:
    structure = test.vehicle.structure
    sides = sorted(set(structure.wheel_y.tolist()))
    steps = (-HALF_WIDTH - EDGE, -HALF_WIDTH, 0.0, HALF_WIDTH, HALF_WIDTH + EDGE)
    lines = sorted({y + step for y in sides for step in steps} | {sides[0] - BESIDE, 0.0, sides[-1] + BESIDE})
    behind = float(structure.wheel_station.max()) + BEYOND
    lead = math.ceil(behind / SPACING)
    x = SPACING * np.arange(-lead, math.ceil(BEYOND / SPACING) + 1)
    heights = np.zeros((len(lines), len(x)))
    for wheel in test.raised:
        at, y = -structure.wheel_station[wheel], structure.wheel_y[wheel]
        across = np.abs(np.array(lines) - y) < HALF_WIDTH + 0.5 * EDGE
        heights[np.ix_(across, np.abs(x - at) < HALF_LENGTH)] = height
    return Surface(heights, np.array(lines), SPACING, lead)
