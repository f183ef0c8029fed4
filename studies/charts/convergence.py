"""Chart: how the estimate of unload events settles with the number of samples, best and worst candidate."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.outcomes import wheel_rate
from crossaxle.studies.base.intervals import bunch_size, rate
from crossaxle.studies.base.number_format import number, tick
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import hue
from crossaxle.studies.charts.text import fold

_HEIGHT = 2.6
_SIDE = 0.7


def convergence(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw unload events per km with interval, from the first few samples to all."""
    found, everyone = wheel_rate(ds, course), candidates(ds)
    rates = np.where(np.isfinite(found.estimate.value), found.estimate.value, -1.0)
    worst = int(np.argmax(rates))
    best = int(np.argmin(np.where(rates < 0, np.inf, rates)))
    n = found.samples.shape[1]
    at = np.unique(np.geomspace(min(5, n), n, 40).astype(int))
    bunch = bunch_size(found.samples, found.distance)
    last = found.estimate[worst]
    half = float(last.high - last.low) / 2 / float(last.value) if float(last.value) > 0 else float("nan")
    title = (
        f"After {n} samples the rate of {everyone[worst].name} is known to about ±{number(100 * half, 2)} %"
    )
    if not half < 1:
        title = f"After {n} samples the rates are still poorly known"
    note = "Unload events per km from the first samples, then more and more of them. Shaded: 95 % interval."
    by = hue(ds)
    # In the order in which other charts hand out their colours, so that two mounts keep theirs.
    shown = sorted({worst, best}, key=lambda k: (everyone[k].place.get(by, 0), k))
    legend = [fold(everyone[k].name, width - 1.2, style.SMALL, most=1)[0] for k in shown]
    head = style.heading_height(title, note, width) + 0.24 * len(shown) + 0.1
    made = style.figure(width, head + _HEIGHT + 0.55)
    used = style.heading(made, title, note)
    height = made.get_size_inches()[1]
    axes = made.add_axes((_SIDE / width, 0.55 / height, (width - _SIDE - 0.3) / width, _HEIGHT / height))
    style.dress(axes, grid="both")
    for row, (k, text) in enumerate(zip(shown, legend, strict=True)):
        appearance = style.look(row)
        so_far = [rate(found.samples[k, :m], found.distance[k, :m], bunch=bunch).times(1e3) for m in at]
        ends = [[float(getattr(one, end)) for one in so_far] for end in ("value", "low", "high")]
        axes.fill_between(at, ends[1], ends[2], color=appearance.colour, alpha=0.18, linewidth=0)
        axes.plot(at, ends[0], color=appearance.colour, linestyle=appearance.line, linewidth=2.2)
        y = 1 - (used + 0.12 + 0.24 * row) / height
        sample = Line2D(
            [0.12 / width, 0.57 / width], [y, y], transform=made.transFigure,
            color=appearance.colour, linestyle=appearance.line, linewidth=2.2,
        )  # fmt: skip
        made.add_artist(sample)
        made.text(0.65 / width, y, text, size=style.SMALL, color=style.INK, va="center")
    axes.set_ylim(0, None)
    axes.set_xlim(float(at[0]), float(at[-1]))
    axes.xaxis.set_major_locator(MaxNLocator(6, integer=True))
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
    axes.set_xlabel("samples", size=style.SMALL, color=style.INK, labelpad=2)
    return made
