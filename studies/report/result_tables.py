"""Tables of what was found: headline numbers, wheels, gaps, levels and distances of all candidates."""

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate, candidates, items, values
from crossaxle.studies.analysis.outcomes import KM, Outcome, once_in
from crossaxle.studies.base.intervals import Interval, bunch_size, met_once, rate
from crossaxle.studies.base.number_format import fixed, kilometres, number, quantity, shown_unit
from crossaxle.studies.base.table import Cell, Table, estimate_cell, name_cell
from crossaxle.studies.charts.unloading import axles


def contact_shares(ds: xr.Dataset, course: int) -> Array:
    """Return the share of its distance on which parts of each candidate overlap, (candidates,)."""
    driven = np.nansum(values(ds, "distance", course), axis=1)
    if "contact_distance" not in ds:
        return np.zeros(len(driven))
    touching = np.nansum(values(ds, "contact_distance", course), axis=1)
    shares: Array = touching / np.maximum(driven, 1e-9)
    return shares


def headline_table(
    everyone: list[Candidate], outcomes: list[Outcome], keep: list[int], contact: Array | None = None
) -> Table:
    """Make the table of page one; the best numbers of each column are marked unless all are alike.

    ``contact`` (candidates,): share of the distance with parts in contact, said beside the name.
    """
    head = [Cell("Candidate"), *(Cell(o.heading, o.unit) for o in outcomes)]
    best = [_best(o, keep) for o in outcomes]
    rows = []
    for k in keep:
        cells = [
            estimate_cell(o.estimate[k], "best" if k in b else "", o.item[k])
            for o, b in zip(outcomes, best, strict=True)
        ]
        share = 0.0 if contact is None else float(contact[k])
        touching = f"parts in contact on {quantity(100 * share, '%', 2)} of the distance" if share else ""
        rows.append([Cell(everyone[k].name, note=touching), *cells])
    return Table("Headline numbers", head, rows)


def wheel_table(ds: xr.Dataset, course: int) -> Table:
    """Make the table of unloading by candidate and axle."""
    everyone, driven = candidates(ds), values(ds, "distance", course)
    counted = {
        name: values(ds, name, course)
        for name in ("unload_events", "unloaded_distance", "free_events", "free_distance")
    }
    load = values(ds, "wheel_load_minimum", course)
    head = [
        Cell("Candidate"),
        name_cell("Wheels"),
        Cell("Unload events", "per km"),
        Cell("Unloaded", "m per km"),
        Cell("Free", "times per 100 km"),
        Cell("Smallest load met", "kN"),
    ]
    table = Table("Wheel unloading by axle", head)
    scales = {"unload_events": KM, "unloaded_distance": KM, "free_events": 100 * KM}
    sums = {axle: {n: v[:, :, w].sum(axis=-1) for n, v in counted.items()} for axle, w in axles(ds).items()}
    for c in everyone:
        for axle, wheels in axles(ds).items():
            cells = []
            for name, scale in scales.items():
                amount = sums[axle][name]
                bunch = bunch_size(amount, driven)
                cells.append(estimate_cell(rate(amount[c.index], driven[c.index], bunch=bunch).times(scale)))
            least = float(np.nanmin(load[c.index][:, wheels])) if np.isfinite(load[c.index]).any() else np.nan
            table.rows.append([Cell(c.name), name_cell(axle), *cells, Cell(fixed(least / 1e3, 1))])
    return table


def gap_table(ds: xr.Dataset, course: int) -> Table:
    """Make the table of gaps: built clearance, level met once in a distance, extremes met."""
    every = once_in(ds, course)
    head = [
        Cell("Gap"),
        name_cell("Candidate"),
        Cell("Built clearance", "mm"),
        Cell(f"Smallest, met about once in {kilometres(every)}", "mm"),
        Cell("Smallest met", "mm"),
        Cell("Widest met", "mm"),
        Cell("Samples in which it closed"),
    ]
    table = Table("Gaps", head)
    least = np.moveaxis(values(ds, "gap_minimum", course), -1, 1)
    most = values(ds, "gap_maximum", course)
    built = values(ds, "gap_static")
    level = met_once(-least, values(ds, "distance", course)[:, None, :], every).times(-1e3)
    for k, gap in enumerate(items(ds, "gap")):
        for c in candidates(ds):
            i = c.index
            if not np.isfinite(least[i, k]).any():
                continue
            closed = int((least[i, k] <= 0).sum())
            of = int(np.isfinite(least[i, k]).sum())
            table.rows.append(
                [
                    Cell(gap),
                    name_cell(c.name),
                    Cell(fixed(float(built[i, k]) * 1e3, 0)),
                    estimate_cell(level[i, k]),
                    Cell(fixed(float(np.nanmin(least[i, k])) * 1e3, 1)),
                    Cell(fixed(float(np.nanmax(most[i, :, k])) * 1e3, 1)),
                    Cell(f"{closed} of {of}", mark="bad" if closed else ""),
                ]
            )
    return table


def level_table(ds: xr.Dataset, course: int, caption: str, names: dict[str, str], dim: str = "") -> Table:
    """Make a table of levels met about once in a distance, a column per variable, a row per candidate and item.

    Parameters
    ----------
    names : dict of str to str
        Variable to heading; a variable that the Dataset lacks is left out.
    dim : str
        The items' dimension, empty if the variables have none.
    """
    every = once_in(ds, course)
    names = {n: heading for n, heading in names.items() if n in ds}
    units = {n: shown_unit(str(ds[n].attrs.get("units", ""))) for n in names}
    head = [Cell(dim.replace("_", " ").capitalize())] if dim else []
    head += [name_cell("Candidate"), *(Cell(heading, units[n].unit) for n, heading in names.items())]
    table = Table(f"{caption}, met about once in {kilometres(every)}", head)
    levels = {n: _levels(ds, n, course, every, dim).times(units[n].factor) for n in names}
    for k, item in enumerate(items(ds, dim) if dim else [""]):
        for c in candidates(ds):
            cells = [estimate_cell(levels[n][c.index, k]) for n in names]
            if any(cell.text != "–" for cell in cells):
                table.rows.append([*([Cell(item)] if dim else []), name_cell(c.name), *cells])
    return table


def distance_table(ds: xr.Dataset, course: int) -> Table:
    """Make the table of what was driven, and where the model had no posture or left its range."""
    table = Table(
        "Distance driven and what could not be computed",
        [
            Cell("Candidate"),
            Cell("Driven", "km"),
            Cell("Samples", "good of all"),
            Cell("Tipped", "m"),
            Cell("No balance found", "m"),
            Cell("Outside range", "m"),
            Cell("Parts in contact", "m"),
        ],
    )
    status = values(ds, "sample_status", course)
    driven, tipped, lost, outside, contact = (
        values(ds, name, course) if name in ds else np.zeros(status.shape)
        for name in (
            "distance",
            "tipped_distance",
            "no_equilibrium_distance",
            "outside_range_distance",
            "contact_distance",
        )
    )
    for c in candidates(ds):
        i = c.index
        good = int((status[i] == 0).sum())
        table.rows.append(
            [
                Cell(c.name),
                Cell(number(float(np.nansum(driven[i])) / KM, 4)),
                Cell(f"{good} of {status.shape[1]}", mark="bad" if good < status.shape[1] else ""),
                *(
                    Cell(fixed(bad := float(np.nansum(d[i])), 1), mark="bad" if bad else "")
                    for d in (tipped, lost)
                ),
                Cell(fixed(float(np.nansum(outside[i])), 1)),
                Cell(fixed(touched := float(np.nansum(contact[i])), 1), mark="bad" if touched else ""),
            ]
        )
    return table


def _levels(ds: xr.Dataset, name: str, course: int, every: float, dim: str) -> Interval:
    """Levels as (candidate, item); smallest values for names that end in ``minimum``."""
    sign = -1.0 if name.endswith("minimum") else 1.0
    extreme = values(ds, name, course) * sign
    extreme = np.moveaxis(extreme, -1, 1) if dim else extreme[:, None, :]
    return met_once(extreme, values(ds, "distance", course)[:, None, :], every).times(sign)


def _best(outcome: Outcome, among: list[int]) -> list[int]:
    """Return the best of a column and those that the same ground does not show to be worse; none if that is all."""
    value = outcome.estimate.value
    if not np.isfinite(value[among]).any():
        return []
    top = int(np.nanargmin(value))
    found = [
        k
        for k in among
        if k == top or (np.isfinite(value[k]) and not float(outcome.compare(k, top).difference.low) > 0)
    ]
    return found if len(found) < len(among) else []
