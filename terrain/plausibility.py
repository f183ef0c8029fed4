"""Doubts about a course that can be laid but hardly met: each with numbers and a remedy."""

import numpy as np

from crossaxle.terrain.course import Course, CourseSection

STEEPEST_ROUGHNESS = 0.3
"""Standard deviation of the roughness' slope that a wheel may still meet [1]."""
USUAL_WAVINESS = (1.5, 2.5)
STEEPEST_SLOPE = np.radians(25)
COARSEST_BAND = 0.5
"""A band that ends below this leaves out what lifts a single wheel [cycle/m]."""


def doubts(course: Course) -> list[str]:
    """List what is implausible in a course; empty if nothing is."""
    return [
        f"section {name}: {text}" for name, section in course.sections.items() for text in _section(section)
    ]


def _section(section: CourseSection) -> list[str]:
    return [
        *_roughness(section),
        *_slopes(section),
        *(text for obstacle in section.obstacles for text in obstacle.doubts()),
    ]


def _roughness(section: CourseSection) -> list[str]:
    if section.roughness is None:
        return []
    found: list[str] = []
    spectrum = section.roughness.spectrum()
    slope = np.sqrt(spectrum.moment(2))
    if slope > STEEPEST_ROUGHNESS:
        found.append(
            f"up to {spectrum.upper:g} cycle/m the ground's slope has a standard deviation of {slope:.2f}"
            f" ({np.degrees(np.arctan(slope)):.0f} deg), which no wheel meets; lower band_to or choose a"
            " smoother class"
        )
    low, high = USUAL_WAVINESS
    found.extend(
        f"waviness {w:.2f} lies outside {low:g} to {high:g}, where measured ground is found; check level_at and"
        " waviness"
        for w in (spectrum.waviness, spectrum.waviness_above)
        if w is not None and not low <= w <= high
    )
    if spectrum.upper < COARSEST_BAND:
        found.append(
            f"the band ends at {spectrum.upper:g} cycle/m, so nothing shorter than {1 / spectrum.upper:.1f} m is"
            " laid and wheels lift too seldom; raise band_to or add obstacles"
        )
    return found


def _slopes(section: CourseSection) -> list[str]:
    found = []
    for name, slope in (("grade", section.grade), ("side_slope", section.side_slope)):
        steepest = abs(slope.mean) + 2 * slope.deviation
        if steepest > STEEPEST_SLOPE:
            found.append(
                f"{name} reaches {np.degrees(steepest):.0f} deg (mean and two deviations); beyond"
                f" {np.degrees(STEEPEST_SLOPE):.0f} deg a laden truck tips or slides: check the numbers"
            )
    return found
