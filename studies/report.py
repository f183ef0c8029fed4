"""Charts and report of a results Dataset: report.html, one file that needs nothing else, and charts/.

Charts are embedded as SVG twice, once for wide screens and paper and once for phones; the reader's program
takes the one that fits.
"""

from base64 import b64encode
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from jinja2 import Environment, PackageLoader, StrictUndefined

from studies.aims import aims
from studies.answer import Answer, answer
from studies.build_tables import crossing_table, need_table
from studies.candidates import candidates, has_results, swept, values
from studies.charts import style
from studies.charts.catalogue import Entry, catalogue, slug
from studies.display import kilometres
from studies.outcomes import once_in
from studies.tables import Table, distance_table, gap_table, level_table, wheel_table

_QUESTIONS = (
    ("trade", "What does wheel contact cost?"),
    ("wheels", "How often and how long do wheels unload?"),
    ("gaps", "How small do the gaps get?"),
    ("tanks", "What do the tank and its brackets see?"),
    ("frame", "What do frame, body and mounts go through?"),
    ("stability", "How far does it lean, and how near is tipping?"),
    ("drivers", "Which uncertain value matters?"),
    ("build", "What must be built for a long life?"),
)


@dataclass(frozen=True)
class Picture:
    """A chart as it stands in the page: wide and narrow SVG as data addresses, and its text."""

    wide: str
    narrow: str
    text: str


@dataclass(frozen=True)
class Section:
    """One question with its charts and tables."""

    title: str
    pictures: list[Picture]
    tables: list[Table]


@dataclass(frozen=True)
class Part:
    """Everything about one course."""

    answer: Answer
    sections: list[Section]
    driven: Table
    once: str


def write_report(ds: xr.Dataset, folder: Path | str) -> list[Path]:
    """Write charts/ (PNG and SVG) and report.html into a folder; return the paths written, the report first.

    Parameters
    ----------
    ds : Dataset
        Results of one study, as in results.nc.
    folder : path
        Made if it does not exist. Files of the same name are replaced.
    """
    folder = Path(folder)
    charts = folder / "charts"
    charts.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    parts = [_part(ds, course, charts, written) for course in range(ds.sizes["course"])]
    page = folder / "report.html"
    page.write_text(_page(ds, parts), encoding="utf-8")
    return [page, *written]


def _part(ds: xr.Dataset, course: int, charts: Path, written: list[Path]) -> Part:
    prefix = f"course_{course + 1}_" if ds.sizes["course"] > 1 else ""
    pictures: dict[str, list[Picture]] = {}
    for entry in catalogue(ds, course):
        picture, paths = _picture(entry, charts, prefix)
        pictures.setdefault(entry.section, []).append(picture)
        written += paths
    some = has_results(ds, course)
    tables = _tables(ds, course) if some else {}
    sections = [
        Section(title, pictures.get(key, []), tables.get(key, []))
        for key, title in _QUESTIONS
        if pictures.get(key) or tables.get(key)
    ]
    once = kilometres(once_in(ds, course)) if some else ""
    return Part(answer(ds, course), sections, distance_table(ds, course), once)


def _picture(entry: Entry, charts: Path, prefix: str) -> tuple[Picture, list[Path]]:
    wide, narrow = entry.draw(style.WIDE), entry.draw(style.NARROW)
    paths = style.save(wide, charts, f"{prefix}{slug(entry.name)}")
    embedded = [_address(svg) for svg in (paths[1].read_bytes(), style.svg(narrow))]
    return Picture(embedded[0], embedded[1], str(wide.get_label())), paths


def _address(svg: bytes) -> str:
    return f"data:image/svg+xml;base64,{b64encode(svg).decode('ascii')}"


def _tables(ds: xr.Dataset, course: int) -> dict[str, list[Table]]:
    """Tables by section."""
    tanks = {"tank_level_difference_maximum": "Level difference", "tank_torque_maximum": "Tank torque"}
    brackets = {"bracket_stress_maximum": "Root stress", "strap_force_maximum": "Strap force"}
    frame = {"frame_twist_maximum": "Frame twist", "body_torque_maximum": "Body torque"}
    mounts = {
        "mount_travel_maximum": "Travel",
        "mount_force_maximum": "Largest force",
        "mount_force_minimum": "Smallest force",
    }
    sideways = {
        "mount_side_force_maximum": "To the left",
        "mount_side_force_minimum": "To the right (negative)",
        "mount_fore_aft_force_maximum": "Forward",
        "mount_fore_aft_force_minimum": "Rearward (negative)",
    }
    stability = {"body_roll_maximum": "Lean", "tip_margin_minimum": "Tip margin"}
    tables: dict[str, list[Table]] = {"wheels": [wheel_table(ds, course)]}
    if ds.sizes.get("gap"):
        tables["gaps"] = [gap_table(ds, course)]
    stated = aims(ds)
    tables["build"] = [
        t for make in (need_table, crossing_table) if (t := make(ds, stated, course)) is not None
    ]
    for section, caption, names, dim in (
        ("tanks", "Brackets", brackets, "bracket"),
        ("tanks", "Tanks", tanks, "tank"),
        ("frame", "Frame and body", frame, ""),
        ("frame", "Mounts", mounts, "mount_point"),
        ("frame", "Horizontal mount forces, both rails of a station together", sideways, "mount_station"),
        ("frame", "Pivots", {"pivot_angle_maximum": "Angle"}, "pivot"),
        ("stability", "Lean and tipping", stability, ""),
    ):
        if not dim or ds.sizes.get(dim):
            table = level_table(ds, course, caption, names, dim)
            if table.rows:
                tables.setdefault(section, []).append(table)
    return tables


def _page(ds: xr.Dataset, parts: list[Part]) -> str:
    environment = Environment(
        loader=PackageLoader("studies"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    return environment.get_template("report.html.j2").render(
        title=str(ds.attrs.get("title", "Wheel contact, gaps and stresses on rough ground")),
        parts=parts,
        n_candidates=len(candidates(ds)),
        swept=[name.replace("_", " ").replace(".", " ") for name in swept(ds)],
        n_samples=int(ds.sizes["sample"]),
        driven=kilometres(float(np.nansum(values(ds, "distance")[0]))),
        below=f"{100 * float(ds.attrs.get('unload_below', 0.10)):g}",
        texts={k: v for k, v in _attributes(ds) if "\n" in v},
        facts=[(k, v) for k, v in _attributes(ds) if "\n" not in v],
    )


def _attributes(ds: xr.Dataset) -> list[tuple[str, str]]:
    def text(value: Any) -> str:
        return (
            ", ".join(str(v) for v in value) if isinstance(value, np.ndarray | list | tuple) else str(value)
        )

    return [(str(k).replace("_", " "), text(v)) for k, v in ds.attrs.items() if k != "surveys"]
