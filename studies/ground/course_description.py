"""What a course is like: numbers for reading and a figure, from its formulas and from ground laid at random.

Warp is the cross-level (left minus right) at the front axle minus that at the rear axle; divided by the track it is the
twist between the axles, and half of it is the height that must be put under two diagonally opposite wheels
to get it.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from crossaxle.arrays import Array
from crossaxle.terrain.closed_form import Process, cross_level, height, warp
from crossaxle.terrain.course import Course, CourseSection, Slope
from crossaxle.terrain.ground import Stretch, lay_ground
from crossaxle.terrain.obstacles import KINDS
from crossaxle.terrain.plausibility import doubts
from crossaxle.terrain.shapes import KIND
from crossaxle.terrain.spectrum import nearest_class
from crossaxle.terrain.tracks import TyreLine, lay_tracks

QUANTILES = (0.5, 0.9, 0.99, 0.999)


@dataclass(frozen=True)
class View:
    """Truck and distance for which a course is described. SI units.

    Attributes
    ----------
    wheelbase, track : float
        [m]
    radius, contact_length : float
        Of the tyre [m].
    spacing : float
        Between points [m].
    distance : float
        Ground laid for the measured values [m].
    seed : int
    """

    wheelbase: float = 4.5
    track: float = 2.0
    radius: float = 0.6
    contact_length: float = 0.3
    spacing: float = 0.05
    distance: float = 20_000.0
    seed: int = 1

    @property
    def n_points(self) -> int:
        """Points along the distance."""
        return round(self.distance / self.spacing)


def describe_ground(course: Course, view: View | None = None) -> dict[str, Any]:
    """Describe a course: its sections by their formulas, and what a truck meets on ground laid at random.

    Parameters
    ----------
    course : Course
    view : View, optional

    Returns
    -------
    dict
        Plain numbers, texts, lists and dicts; units stand in the keys.
    """
    view = view or View()
    twist = warp_angles(course, view)
    half = np.radians(np.abs(twist)) * view.track / 2
    found = lay_ground(course, (view.track / 2, -view.track / 2), view.spacing, view.n_points, view.seed, 0)
    counts = Counter(KINDS[int(kind)].word() for kind in found.obstacles[:, KIND])
    return {
        "course": course.name,
        "sections": {name: _section(course, name, view) for name in course.sections},
        "laid": {
            "distance_m": view.distance,
            "wheelbase_m": view.wheelbase,
            "track_m": view.track,
            "tyre_radius_m": view.radius,
            "contact_length_m": view.contact_length,
            "seed": view.seed,
            "height_std_m": float(found.heights.std()),
            "warp_std_deg": float(twist.std()),
            "warp_deg": {f"{q:g}": float(np.quantile(np.abs(twist), q)) for q in QUANTILES},
            "warp_largest_deg": float(np.abs(twist).max()),
            "pedestal_height_m": {f"{q:g}": float(np.quantile(half, q)) for q in QUANTILES},
            "obstacles": dict(counts),
        },
        "warnings": doubts(course),
    }


def warp_angles(course: Course, view: View) -> Array:
    """Twist between front and rear axle at every position of sample 0, as the tyres feel it [deg]."""
    lead = int(np.ceil(view.wheelbase / view.spacing))
    lines = tuple(TyreLine(side * view.track / 2, view.radius, view.contact_length) for side in (1, -1))
    tracks = lay_tracks(course, lines, view.spacing, view.n_points, lead, view.seed, 0)
    level = (tracks.heights[0] - tracks.heights[1]).astype(float)
    place = lead + np.arange(tracks.n_positions) - view.wheelbase / view.spacing
    rear = np.interp(place, np.arange(level.size), level)
    return np.asarray(np.degrees((level[lead:] - rear) / view.track), float)


def _section(course: Course, name: str, view: View) -> dict[str, Any]:
    section = course.sections[name]
    found: dict[str, Any] = {
        "share": section.share,
        "roughness": _roughness(section, view),
        "grade_deg": _slope(section.grade),
        "side_slope_deg": _slope(section.side_slope),
        "obstacles_per_km": {},
    }
    for obstacle in section.obstacles:
        rates = found["obstacles_per_km"]
        rates[obstacle.word()] = rates.get(obstacle.word(), 0.0) + 1000 * obstacle.rate
    if name in course.recordings:
        survey = course.recordings[name]
        found["survey"] = {"length_m": survey.length, "spacing_m": survey.measured_spacing}
    if name in course.fits:
        fit = course.fits[name]
        found["fit"] = {
            "misfit_dB": fit.misfit_db,
            "r_squared": fit.r_squared,
            "coherence_misfit": fit.coherence_misfit,
            "kurtosis": fit.kurtosis,
        }
    return found


def _roughness(section: CourseSection, view: View) -> dict[str, Any] | None:
    """Describe the random roughness by its formulas; obstacles, patches and the tyre's disc are not in these."""
    if section.roughness is None:
        return None
    spectrum, coherence = section.roughness.spectrum(), section.model()
    one = Process(height(), spectrum, coherence)
    level = Process(cross_level(view.track), spectrum, coherence)
    twist = Process(warp(view.wheelbase, view.track), spectrum, coherence)
    at_reference = section.roughness.level_at_reference()
    return {
        "iso_class": section.roughness.iso_class or nearest_class(at_reference),
        "density_at_0.1_cycle_per_m_m3": at_reference,
        "waviness": spectrum.waviness,
        "waviness_above": spectrum.waviness_above,
        "break_cycle_per_m": spectrum.break_at,
        "band_cycle_per_m": [spectrum.lower, spectrum.upper],
        "coherence": section.coherence,
        "height_std_m": one.moment(0) ** 0.5,
        "slope_std": one.moment(2) ** 0.5,
        "height_zero_upcrossings_per_m": one.rice_rate(0.0),
        "cross_level_std_deg": float(np.degrees(level.moment(0) ** 0.5 / view.track)),
        "warp_std_deg": float(np.degrees(twist.moment(0) ** 0.5 / view.track)),
    }


def _slope(slope: Slope) -> dict[str, float]:
    return {"mean": float(np.degrees(slope.mean)), "std": float(np.degrees(slope.deviation))}


def stretch_of(stretches: tuple[Stretch, ...], name: str) -> Stretch:
    """Find the stretch of a section."""
    return next(stretch for stretch in stretches if stretch.section == name)
