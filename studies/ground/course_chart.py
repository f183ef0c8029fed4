"""Figure of a course: stretches in profile and plan, spectra against the ISO 8608 classes, and warp."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Polygon
from matplotlib.ticker import FuncFormatter, NullLocator
from scipy.signal import welch

from crossaxle.arrays import Array
from crossaxle.studies.charts import style
from crossaxle.studies.ground.course_description import View, stretch_of, warp_angles
from crossaxle.terrain.course import Course
from crossaxle.terrain.ground import Ground, lay_ground
from crossaxle.terrain.obstacles import KINDS
from crossaxle.terrain.shapes import KIND, X
from crossaxle.terrain.spectrum import CLASS_MEANS

SHOWN = 40.0
"""Length of the stretch shown of each section [m]."""
HALF_WIDTH = 3.0
"""Half the width of the plan [m]."""
LINE_SPACING = 0.15
"""Lateral resolution of the plan, about [m]."""
MOST_SECTIONS = 4
ROW, PLAN, FOOT = 1.35, 1.75, 3.9
"""Heights of a profile, a plan and the lower charts [inches]."""


def draw_ground(course: Course, view: View | None = None) -> Figure:
    """Draw a course: a stretch of every section in profile and plan, its spectra, and the warp met.

    Parameters
    ----------
    course : Course
    view : View, optional
    """
    view = view or View()
    names = sorted(course.sections, key=lambda name: -course.sections[name].share)[:MOST_SECTIONS]
    names = [name for name in course.sections if name in names]
    title = f"{course.name}: the ground and how far it twists a truck"
    note = (
        f"{SHOWN:g} m of each section, without the large-scale slopes. Tracks {view.track:g} m apart, wheelbase"
        f" {view.wheelbase:g} m, tyre radius {view.radius:g} m, contact {view.contact_length:g} m; spectrum and warp"
        f" from {view.distance / 1000:g} km of random ground."
    )
    head = style.heading_height(title, note, style.WIDE)
    total = head + len(names) * (ROW + PLAN + 0.55) + FOOT + 0.3
    made = style.figure(style.WIDE, total)
    top = total - style.heading(made, title, note)
    ground = _surface(course, view)
    tracks = lay_ground(course, (view.track / 2, -view.track / 2), view.spacing, view.n_points, view.seed, 0)

    def axes(left: float, bottom: float, width: float, height: float) -> Axes:
        return made.add_axes((left / style.WIDE, bottom / total, width / style.WIDE, height / total))

    for number, name in enumerate(names):
        top -= 0.42
        profile = axes(0.85, top - ROW, 8.0, ROW)
        top -= ROW + 0.08
        plan = axes(0.85, top - PLAN, 8.0, PLAN)
        bar = axes(9.0, top - PLAN + 0.25, 0.12, PLAN - 0.5)
        top -= PLAN + 0.05
        first = _window(ground, name)
        _profile(
            profile,
            ground,
            first,
            f"{name} ({100 * course.sections[name].share:g} % of the way)",
            number == 0,
        )
        _plan(plan, bar, ground, first)
    _spectra(axes(0.85, 0.6, 4.0, FOOT - 0.95), course, tracks)
    _warp(axes(5.75, 0.6, 4.0, FOOT - 0.95), warp_angles(course, view), view)
    return made


def _surface(course: Course, view: View) -> Ground:
    """Lay a short sample on many lines; the first two are the wheel tracks."""
    # a grid that the wheel tracks fall on
    step = view.track / 2 / max(1, round(view.track / 2 / LINE_SPACING))
    half = int(HALF_WIDTH / step)
    beside = step * np.arange(-half, half + 1)
    lines = (view.track / 2, -view.track / 2, *beside.tolist())
    # long enough that every section shows a whole stretch
    least = min(section.share for section in course.sections.values())
    n_points = round(max(1500.0, 1.5 * SHOWN / least) / view.spacing)
    return lay_ground(course, lines, view.spacing, n_points, view.seed, 0)


def _window(ground: Ground, name: str) -> slice:
    """Points of the stretch shown: the one with most obstacles on whole steps of half a stretch."""
    here = stretch_of(ground.stretches, name)
    count = min(round(SHOWN / ground.spacing), here.stop - here.start)
    starts = np.arange(here.start, here.stop - count + 1, max(1, count // 2))
    x = ground.obstacles[:, X] / ground.spacing
    inside = [int(np.sum((x >= start + 0.1 * count) & (x < start + 0.9 * count))) for start in starts]
    first = int(starts[int(np.argmax(inside))])
    return slice(first, first + count)


def _profile(ax: Axes, ground: Ground, shown: slice, title: str, legend: bool) -> None:
    x = (np.arange(shown.start, shown.stop) - shown.start) * ground.spacing
    for line, label in enumerate(("left track", "right track")):
        look = style.look(line)
        ax.plot(
            x, ground.heights[line, shown], color=look.colour, linestyle=look.line, linewidth=1.3, label=label
        )
    style.dress(ax, grid="both")
    ax.set_xlim(0, x[-1])
    ax.tick_params(labelbottom=False)
    ax.set_ylabel("height [m]", size=style.SMALL, color=style.INK)
    ax.set_title(title, loc="left", size=style.TEXT, color=style.INK, weight="bold")
    if legend:
        ax.legend(
            loc="lower right",
            bbox_to_anchor=(1, 1),
            ncols=2,
            frameon=False,
            fontsize=style.SMALL,
            borderaxespad=0.1,
        )


def _plan(ax: Axes, bar: Axes, ground: Ground, shown: slice) -> None:
    x0, length = shown.start * ground.spacing, (shown.stop - shown.start) * ground.spacing
    heights = ground.heights[2:, shown]
    half = float(np.quantile(np.abs(heights), 0.995))
    edge = ground.line_y[-1] + (ground.line_y[-1] - ground.line_y[-2]) / 2
    image = ax.imshow(
        heights,
        extent=(0, length, -edge, edge),
        origin="lower",
        aspect="auto",
        cmap="cividis",
        vmin=-half,
        vmax=half,
        interpolation="bilinear",
    )
    for line, y in enumerate(ground.line_y[:2]):
        look = style.look(line)
        ax.axhline(y, color="white", linewidth=2.2)
        ax.axhline(y, color=look.colour, linewidth=1.2, linestyle=look.line)
    for row in ground.obstacles:
        _mark(ax, row, x0, length)
    ax.set_xlim(0, length)
    ax.set_ylim(-edge, edge)
    ax.tick_params(labelsize=style.SMALL, colors=style.INK, length=3)
    ax.set_ylabel("to the left [m]", size=style.SMALL, color=style.INK)
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g} m"))
    colours = ax.figure.colorbar(image, cax=bar)
    colours.ax.tick_params(labelsize=style.SMALL, colors=style.INK)
    colours.ax.set_title("m", size=style.SMALL, color=style.INK)


def _mark(ax: Axes, row: Array, x0: float, length: float) -> None:
    """Outline one obstacle and name it at the left end of its outline."""
    kind = KINDS[int(row[KIND])]
    outlines = [corners - (x0, 0.0) for corners in kind.outlines(row, HALF_WIDTH)]
    everything = np.concatenate(outlines)
    if everything[:, 0].max() < 0 or everything[:, 0].min() > length:
        return
    for corners in outlines:
        _outline(ax, Polygon([tuple(corner) for corner in corners]))
    highest = everything[everything[:, 1] >= everything[:, 1].max() - 1e-6]
    x, y = float(highest[:, 0].min()), float(highest[:, 1].max())
    if everything[:, 0].min() < 0 <= everything[:, 0].max():
        x = max(x, 0.3)
    if 0 <= x < 0.93 * length:
        below = y > HALF_WIDTH - 0.6
        ax.text(
            x,
            min(y + (-0.15 if below else 0.1), HALF_WIDTH - 0.05),
            kind.word(),
            size=8.5,
            color=style.INK,
            va="top" if below else "bottom",
            clip_on=True,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2, "alpha": 0.85},
        )


def _outline(ax: Axes, patch: Patch) -> None:
    patch.set(edgecolor="white", facecolor="none", linewidth=1.3)
    ax.add_patch(patch)


def _spectra(ax: Axes, course: Course, ground: Ground) -> None:
    """Spectrum of each section's tracks on the bands of the ISO classes."""
    n = np.geomspace(0.01, 10, 50)
    for number, (name, mean) in enumerate(CLASS_MEANS.items()):
        low, high = mean / 2 * (n / 0.1) ** -2, mean * 2 * (n / 0.1) ** -2
        ax.fill_between(n, low, high, color=style.BAND if number % 2 else "#dfe4e7", linewidth=0)
        ax.text(0.0115, mean * (0.0115 / 0.1) ** -2, name, size=style.SMALL, color=style.SOFT, va="center")
    for number, name in enumerate(course.sections):
        here = stretch_of(ground.stretches, name)
        look = style.look(number)
        size = min(4096, here.stop - here.start)
        waves, density = welch(ground.heights[:, here.start : here.stop], 1 / ground.spacing, nperseg=size)
        ax.loglog(
            waves[2:],
            density.mean(axis=0)[2:],
            color=look.colour,
            linestyle=look.line,
            linewidth=1.6,
            label=name,
        )
    style.dress(ax, grid="both")
    ax.set_xlim(0.01, 10)
    ax.set_ylim(1e-8, 100)
    ax.xaxis.set_minor_locator(NullLocator())
    ax.yaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.set_xlabel("spatial frequency [cycle/m]", size=style.SMALL, color=style.INK)
    ax.set_ylabel("displacement density [m³]", size=style.SMALL, color=style.INK)
    ax.set_title(
        "Spectrum of the tracks on the classes of ISO 8608",
        loc="left",
        size=style.SMALL,
        weight="bold",
        color=style.INK,
    )
    ax.legend(frameon=False, fontsize=style.SMALL, loc="upper right")


def _warp(ax: Axes, twist: Array, view: View) -> None:
    """Histogram of the twist on a logarithmic axis, with the normal curve of the same deviation."""
    limit = 1.05 * float(np.abs(twist).max())
    share, edges = np.histogram(twist, bins=61, range=(-limit, limit))
    share = share / twist.size
    middle, width = (edges[1:] + edges[:-1]) / 2, edges[1] - edges[0]
    look = style.look(0)
    ax.bar(middle, share, width=width, color=look.colour, alpha=0.85, linewidth=0, label="laid")
    fine = np.linspace(-limit, limit, 300)
    s = float(twist.std())
    normal = width * np.exp(-(fine**2) / (2 * s * s)) / (s * np.sqrt(2 * np.pi))
    ax.plot(
        fine,
        normal,
        color=style.look(1).colour,
        linewidth=1.8,
        linestyle=style.look(1).line,
        label=f"normal, {s:.2g} deg",
    )
    style.dress(ax, grid="both")
    ax.set_yscale("log")
    ax.set_ylim(0.5 / twist.size, 1)
    ax.set_xlim(-limit, limit)
    ax.yaxis.set_minor_locator(NullLocator())
    ax.set_xlabel("twist from front to rear axle [deg]", size=style.SMALL, color=style.INK)
    ax.set_ylabel("share of the distance per bar", size=style.SMALL, color=style.INK)
    scale = np.radians(1) * view.track / 2
    upper = ax.secondary_xaxis("top", functions=(lambda d: d * scale, lambda h: h / scale))
    upper.set_xlabel("height under two opposite wheels [m]", size=style.SMALL, color=style.INK)
    upper.tick_params(labelsize=style.SMALL, colors=style.INK)
    ax.legend(frameon=False, fontsize=style.SMALL, loc="upper right")
