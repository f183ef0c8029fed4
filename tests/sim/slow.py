"""The sampling done the slow way: the reference solver at every position, and plain numpy on the whole series."""

import numpy as np

from crossaxle.sim.codes import GOOD, NO_EQUILIBRIUM, TIPPED
from crossaxle.sim.ground_plane import input_vector
from crossaxle.sim.posture import Posture, solve_posture
from crossaxle.sim.recorder import Combine, Recorder
from crossaxle.sim.reduced import ReducedModel
from crossaxle.sim.tracks import Segment, WheelTracks


def rough_ground(
    rng: np.random.Generator, points: int, lines: int, size: float, spacing: float
) -> np.ndarray:
    """Heights (lines, points) that wander and have occasional steps; ``size`` is their standard deviation [m]."""
    walk = np.cumsum(rng.normal(size=(lines + 1, points)), axis=1)
    window = np.hanning(max(3, round(2.0 / spacing)))
    trend = np.hanning(max(3, round(30.0 / spacing)))
    heights = []
    for line in range(lines):
        raw = 0.6 * walk[-1] + walk[line]
        raw = np.convolve(raw, window / window.sum(), "full")[:points]
        raw = raw - np.convolve(raw, trend / trend.sum(), "full")[:points]
        heights.append(raw * size / raw.std())
    heights = np.array(heights)
    for _ in range(points // 150):
        start = rng.integers(points)
        heights[rng.integers(lines), start : start + 30] += rng.normal() * 2.0 * size
    return heights


def tracks(
    rng: np.random.Generator,
    model: ReducedModel,
    positions: int,
    size: float,
    spacing: float = 0.05,
    slope: float = 0.0,
    normal_gravities: tuple[float, ...] = (9.80665,),
) -> WheelTracks:
    """Tracks for a vehicle with one line under each side's wheels."""
    sides = np.unique(model.wheel_y)
    lead = int(np.ceil(model.wheel_station.max() / spacing)) + 2
    points = positions + lead
    bounds = np.linspace(0, positions, len(normal_gravities) + 1).astype(int)
    return WheelTracks(
        heights=rough_ground(rng, points, len(sides), size, spacing),
        wheel_line=np.searchsorted(sides, model.wheel_y),
        spacing=spacing,
        grade=np.full(points, slope / 2),
        side_slope=slope * np.sin(np.arange(points) * spacing / 20.0),
        lead=lead,
        segments=tuple(
            Segment(int(a), int(b), g) for a, b, g in zip(bounds, bounds[1:], normal_gravities, strict=False)
        ),
    )


def wheel_heights(model: ReducedModel, ground: WheelTracks, position: int) -> np.ndarray:
    """Ground height (w,) under each wheel."""
    points = np.arange(ground.heights.shape[1])
    at = ground.lead + position - model.wheel_station / ground.spacing
    return np.array([np.interp(at[i], points, ground.heights[ground.wheel_line[i]]) for i in range(len(at))])


def inputs_along(model: ReducedModel, ground: WheelTracks, linearised: bool = False) -> np.ndarray:
    """Inputs (positions, w)."""
    middle = round(ground.lead - model.wheel_station.mean() / ground.spacing)
    return np.array(
        [
            input_vector(
                model.plane,
                wheel_heights(model, ground, p),
                ground.grade[middle + p],
                ground.side_slope[middle + p],
                linearised,
            )
            for p in range(ground.n_positions)
        ]
    )


def postures(models: list[ReducedModel], ground: WheelTracks, linearised: bool = False) -> list[Posture]:
    """A posture for every position, each followed from level ground."""
    by_gravity = {model.normal_gravity: model for model in models}
    inputs = inputs_along(models[0], ground, linearised)
    found = []
    for segment in ground.segments:
        model = by_gravity[segment.normal_gravity]
        found += [solve_posture(model, inputs[p]) for p in range(segment.start, segment.stop)]
    return found


def _stretches(inside: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]])))
    return list(zip(edges[::2], edges[1::2], strict=True))


def _with_hysteresis(load: np.ndarray, start: float, end: float) -> np.ndarray:
    inside = np.zeros(len(load), dtype=bool)
    state = False
    for i, value in enumerate(load):
        state = bool(value <= end) if state else bool(value < start)
        inside[i] = state
    return inside


def keep(
    recorder: Recorder, series: list[Posture], spacing: float, static_load: np.ndarray
) -> dict[str, np.ndarray]:
    """What a sample result should hold, from the postures at all positions."""
    y = np.array([posture.y for posture in series])
    u = np.array([posture.u for posture in series])
    codes = np.array([posture.code for posture in series])
    stride = max(1, round(recorder.histogram_spacing / spacing))
    minimum, maximum, histogram = [], [], []
    contact = np.zeros(len(u), dtype=bool)
    outside = u[:, 0] ** 2 + u[:, 1] ** 2 > (9.80665 * np.sin(recorder.slope_limit)) ** 2
    for record in recorder.records:
        group = y[:, record.channels]
        if record.combine == Combine.LARGEST_MAGNITUDE:
            value = np.abs(group).max(axis=1)
        elif record.combine == Combine.LEAST:
            value = group.min(axis=1)
        else:
            value = group[:, 0]
        good = value[codes == GOOD]
        some = len(good) > 0
        minimum.append(good.min() if record.minimum and some else np.nan)
        widest = group[codes == GOOD] if record.combine == Combine.LEAST else good
        maximum.append(widest.max() if record.maximum and some else np.nan)
        outside |= np.where(codes == GOOD, np.abs(group).max(axis=1) > record.limit, False)
        if record.contact:
            contact |= np.where(codes == GOOD, value < 0.0, False)
        if record.bins:
            counted = value[::stride]
            edges = np.linspace(record.bins.low, record.bins.high, record.bins.count + 1)[1:-1]
            at = np.searchsorted(edges, counted[np.isfinite(counted)], side="right")
            histogram.append(np.bincount(at, minlength=record.bins.count))
    wheels: dict[str, list[float]] = {name: [] for name in ("events", "unloaded", "free_events", "free")}
    for wheel, static in enumerate(static_load):
        events = recorder.events
        load = np.where(codes == GOOD, y[:, wheel], np.inf)
        low = _stretches(_with_hysteresis(load, events.start * static, events.end * static))
        low = [(a, b) for a, b in low if (b - a) * spacing >= events.shortest - 1e-9]
        free = _stretches(load <= events.free * static)
        wheels["events"].append(len(low))
        wheels["unloaded"].append(sum(b - a for a, b in low) * spacing)
        wheels["free_events"].append(len(free))
        wheels["free"].append(sum(b - a for a, b in free) * spacing)
    return {
        "minimum": np.array(minimum),
        "maximum": np.array(maximum),
        "histogram": np.concatenate(histogram) if histogram else np.zeros(0, dtype=int),
        "unload_events": np.array(wheels["events"]),
        "unloaded_distance": np.array(wheels["unloaded"]),
        "free_events": np.array(wheels["free_events"]),
        "free_distance": np.array(wheels["free"]),
        "tipped_distance": np.array((codes == TIPPED).sum() * spacing),
        "no_equilibrium_distance": np.array((codes == NO_EQUILIBRIUM).sum() * spacing),
        "outside_range_distance": np.array(outside.sum() * spacing),
        "contact_distance": np.array(contact.sum() * spacing),
    }
