"""Charts: the share of distance at which gaps, bracket stress, twist and body torque are beyond a level."""

from collections.abc import Callable

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import Candidate, items, values
from crossaxle.studies.analysis.shares import Side, level_at, shares
from crossaxle.studies.base.number_format import number, quantity, shown_unit
from crossaxle.studies.base.quantities import QUANTITIES, short_name
from crossaxle.studies.charts import style
from crossaxle.studies.charts.curve_choice import Choice, choose
from crossaxle.studies.charts.curves import Curves, Mark, curves

RARE = 1e-3
"""The share that titles speak of: one metre in each kilometre."""
_BAND = "Shaded: 95 % interval, from the spread between groups of samples."


def gap_shares(ds: xr.Dataset, item: int, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw the share of distance at or below each distance of one gap, its built clearance marked."""
    choice = choose(ds, course)
    name = items(ds, "gap")[item]
    what = _curves(ds, "gap", "below", item, course, "gap [mm]")
    built = values(ds, "gap_static")[:, item] * 1e3
    met = what.at[np.isfinite(what.share.value).any(axis=0)]
    marks = [Mark(0.0, "closed", "left")] if met.size and met[0] < 0.3 * np.nanmax(built) else []
    marks.append(Mark(float(np.nanmedian(built)), "built clearance"))
    half = float(np.nanmedian(built)) / 2

    def said(c: Candidate) -> float:
        known = np.nan_to_num(what.share.value[c.index])
        return float(np.interp(half, what.at, known))

    start = f"{_capital(name)} is at most half of what was built ({quantity(half, 'mm', 3)})"
    title = _shares_title(choice, said, start)
    note = f"Share of the distance at which the gap is at or below the value on the axis. {_BAND}"
    what = Curves(what.at, what.share, what.label, marks)
    return curves(choice, what, title, note, width)


def bracket_shares(ds: xr.Dataset, item: int, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw the share of distance at or above each stress of one bracket, its stress at rest marked."""
    choice = choose(ds, course)
    name = items(ds, "bracket")[item]
    what = _curves(ds, "bracket_stress", "beyond", item, course, "stress at the root [MPa]")
    rest = float(np.nanmedian(np.abs(values(ds, "bracket_stress_static")[:, item]))) * 1e-6
    what = Curves(what.at, what.share, what.label, [Mark(rest, "standing level")])
    title = _levels_title(choice, what, f"{_capital(name)} sees", "MPa")
    note = f"Share of the distance at which the stress is at or above the value on the axis. {_BAND}"
    return curves(choice, what, title, note, width)


def quantity_shares(
    ds: xr.Dataset, name: str, item: int, course: int = 0, width: float = style.WIDE
) -> Figure:
    """Draw the share of distance at which any quantity with a histogram is at or beyond each value."""
    choice, known = choose(ds, course), QUANTITIES[name]
    unit = shown_unit(known.units).unit
    words = f"{known.long_name} of {items(ds, known.dimension)[item]}" if known.dimension else known.long_name
    label = f"{short_name(name)} [{unit}]" if unit else short_name(name)
    side: Side = "below" if known.worst == "least" else "beyond"
    what = _curves(ds, name, side, item, course, label)
    title = _levels_title(choice, what, f"{_capital(words)} reaches", unit)
    way = "below" if side == "below" else "above"
    note = f"Share of the distance at which it is at or {way} the value on the axis. {_BAND}"
    return curves(choice, what, title, note, width)


def twist_shares(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw the share of distance at or above each frame twist, either way."""
    choice = choose(ds, course)
    what = _curves(ds, "frame_twist", "beyond", 0, course, "frame twist [deg]")
    title = _levels_title(choice, what, "Frame twist reaches", "deg")
    note = (
        "Share of the distance at which the frame is twisted at least so far, either way, between the first "
        f"and the last axle. {_BAND}"
    )
    return curves(choice, what, title, note, width)


def torque_shares(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw the share of distance at or above each body torque, either way."""
    choice = choose(ds, course)
    what = _curves(ds, "body_torque", "beyond", 0, course, "body torque [kN m]")
    title = _levels_title(choice, what, "Body torque reaches", "kN m")
    note = f"Share of the distance at which the body carries at least so much torque. {_BAND}"
    return curves(choice, what, title, note, width)


def load_shares(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw the share of distance at or below each load, of the wheel that unloads most often."""
    choice = choose(ds, course)
    item = int(np.argmax(np.nan_to_num(values(ds, "unload_events", course)).sum(axis=(0, 1))))
    name = items(ds, "wheel")[item]
    what = _curves(ds, "wheel_load", "below", item, course, "load [kN]")
    level = float(np.nanmedian(values(ds, "wheel_load_static")[:, item])) * 1e-3
    below = level * float(ds.attrs.get("unload_below", 0.10))

    def said(c: Candidate) -> float:
        return float(np.interp(below, what.at, np.nan_to_num(what.share.value[c.index])))

    title = _shares_title(choice, said, f"The {name} wheel carries less than {quantity(below, 'kN', 2)}")
    note = f"Share of the distance at which its load is at or below the value on the axis. {_BAND}"
    marks = [Mark(below, "unloaded"), Mark(level, "standing level")]
    return curves(choice, Curves(what.at, what.share, what.label, marks), title, note, width)


def _curves(ds: xr.Dataset, name: str, side: Side, item: int, course: int, label: str) -> Curves:
    found = shares(ds, name, side, course)
    _, factor = shown_unit(str(ds[f"{name}_bin"].attrs.get("units", "")))
    return Curves(found.at * factor, found.share[:, item], label)


def _extremes(choice: Choice, said: Callable[[Candidate], float]) -> tuple[str, list[tuple[str, float]]]:
    """Panel in which the lines differ most, and its lines' names and numbers, largest first."""
    found = [
        (heading, sorted(((_short(c, choice.by), said(c)) for c in members), key=lambda x: -x[1]))
        for heading, members in choice.panels
    ]
    return max(found, key=lambda panel: panel[1][0][1] - panel[1][-1][1])


def _shares_title(choice: Choice, said: Callable[[Candidate], float], start: str) -> str:
    heading, lines = _extremes(choice, said)
    at = f", {heading}" if heading else ""
    most, least = lines[0], lines[-1]
    if most[1] <= 0:
        return f"{start} on no metre driven"
    first = f"{start} on {_percent(most[1])}"
    if len(lines) == 1:
        return f"{first}{at}"
    other = f"{_percent(least[1])}" if least[1] > 0 else "none"
    return f"{first} with {most[0]}, on {other} with {least[0]}{at}"


def _levels_title(choice: Choice, what: Curves, start: str, unit: str) -> str:
    def said(c: Candidate) -> float:
        found = level_at(what.at, what.share.value[c.index], RARE)
        return found if np.isfinite(found) else 0.0

    heading, lines = _extremes(choice, said)
    at = f", {heading}" if heading else ""
    most, least = lines[0], lines[-1]
    first = f"{start} {quantity(most[1], unit, 2)}"
    tail = f" on one metre in each kilometre{at}"
    if len(lines) == 1:
        return first + tail
    same = number(most[1], 2) == number(least[1], 2)
    if same:
        return f"{first}{tail}, whichever the mount" if choice.by == "mount" else f"{first}{tail}, with any"
    return f"{first} with {most[0]}, {quantity(least[1], unit, 2)} with {least[0]},{tail}"


def _short(c: Candidate, by: str) -> str:
    return c.texts.get(by, c.name)


def _percent(share: float) -> str:
    if share >= 1e-4:
        return f"{quantity(100 * share, '%', 2)} of the distance"
    return f"{quantity(share * 1e5, 'cm', 1)} of each km" if share >= 1e-5 else "under 1 cm of each km"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
