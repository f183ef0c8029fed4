"""Which candidates a chart of curves shows: one panel per value of one swept quantity, one line per other.

Curves of many candidates on one another cannot be read. Colour tells the hue (see ``dots.hue``), panels tell
the first other swept quantity, and further quantities stay at the values of the candidate with the fewest
wheel-unload events. At most four panels and five lines are kept, spread over the range.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates, swept
from crossaxle.studies.analysis.outcomes import wheel_rate
from crossaxle.studies.charts.dots import hue

MOST_PANELS = 4
MOST_LINES = 5


@dataclass(frozen=True)
class Choice:
    """Panels (heading, candidates), the quantity shown by colour, and what was left out in words."""

    panels: list[tuple[str, list[Candidate]]]
    by: str
    left_out: str


def choose(ds: xr.Dataset, course: int = 0) -> Choice:
    """Choose panels and lines for a chart of curves."""
    everyone, by = candidates(ds), hue(ds)
    names = [n for n in swept(ds) if n != by]
    rates = wheel_rate(ds, course).estimate.value
    best = everyone[int(np.argmin(np.where(np.isfinite(rates), rates, np.inf)))]
    across = next((n for n in names if ds.sizes[n] > 1), names[0] if names else "")
    fixed = [n for n in names if n != across and ds.sizes[n] > 1]
    lines = _spread(ds.sizes[by] if by else 1, MOST_LINES, best.place.get(by, 0))
    columns = _spread(ds.sizes[across] if across else 1, MOST_PANELS, best.place.get(across, 0))
    panels = []
    for k in columns:
        members = [
            c
            for c in everyone
            if c.place.get(across, 0) == k
            and c.place.get(by, 0) in lines
            and all(c.place[n] == best.place[n] for n in fixed)
        ]
        panels.append((members[0].texts[across] if across else "", members))
    shown = sum(len(m) for _, m in panels)
    words = ""
    if shown < len(everyone):
        words = f"{shown} of {len(everyone)} candidates shown"
        words += f"; all with {', '.join(best.texts[n] for n in fixed)}." if fixed else "."
    return Choice(panels, by, words)


def _spread(n: int, most: int, always: int) -> list[int]:
    """At most so many of n places, ends included, evenly spread, one of them for certain."""
    if n <= most:
        return list(range(n))
    picked = {round(x) for x in np.linspace(0, n - 1, most)}
    if always not in picked:
        nearest = min(picked - {0, n - 1}, key=lambda k: abs(k - always))
        picked = (picked - {nearest}) | {always}
    return sorted(picked)
