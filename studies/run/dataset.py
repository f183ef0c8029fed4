"""Results of a study as one xarray Dataset, and its file: NetCDF-4, SI units, every variable explained.

Dimensions are the swept keys in the study's order, then course, sample and items. The file is made aside, read into
memory and put in place whole, so that a reader never meets half a file.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np
import xarray as xr

from crossaxle.arrays import Array, Integers
from crossaxle.sim.codes import MEANING
from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.recorder import Combine, Record
from crossaxle.studies.base.quantities import CYCLES, DIMENSIONS, QUANTITIES
from crossaxle.studies.base.storage import write_whole
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.experiment import SPACING_OF_COUNTS, Experiment
from crossaxle.studies.run.row_layout import FOLDS, ColumnBlock, Histogram
from crossaxle.studies.run.versions import identity, versions
from crossaxle.studies.study.uncertain import draw
from crossaxle.vehicles.gravity import PointMass
from crossaxle.vehicles.tanks import detail_categories

ENGINE: Final = "netcdf4"
"""Of the libraries that xarray reads NetCDF-4 with: the one that does it in a tenth of a second."""

DAMAGED = (OSError, ValueError, KeyError, RuntimeError, AttributeError)
"""What reading a damaged file may raise."""

_TALLIES = {
    "distance": ("distance driven", "m"),
    "sample_status": ("how the sample ended", "1"),
    "tipped_distance": ("distance without a stable posture", "m"),
    "no_equilibrium_distance": ("distance on which no equilibrium was found", "m"),
    "outside_range_distance": ("distance outside the range of the small angles", "m"),
    "contact_distance": ("distance with parts in contact: some gap is below zero", "m"),
    "unload_events": ("wheel-unload events", "1"),
    "unloaded_distance": ("length of the wheel-unload events", "m"),
    "free_events": ("times the wheel hangs free", "1"),
    "free_distance": ("distance with the wheel hanging free", "m"),
}
_COUNTING = (
    "rainflow, four-point method (ASTM E1049-85), of the signed stress at every position; each sample counted on its "
    "own, what it leaves open as half cycles; no factor applied"
)
_WORDS = {"minimum": "smallest", "maximum": "largest"}


def results(experiment: Experiment, rows: Array, histograms: Integers) -> xr.Dataset:
    """Put a study's results together.

    Parameters
    ----------
    experiment : Experiment
    rows : (samples, candidates, courses, columns)
    histograms : (folds, candidates, courses, bins of all histograms)

    Returns
    -------
    xarray.Dataset
    """
    columns, study = experiment.columns, experiment.study
    shape, names = study.shape, tuple(one.key for one in study.swept)
    data: dict[str, Any] = {}
    by_candidate = np.moveaxis(rows, 0, 2)  # (candidates, courses, samples, columns)
    for block in columns.blocks:
        value = by_candidate[..., block.start : block.start + block.count]
        value = value if block.dimension else value[..., 0]
        dims = (*names, "course", "sample", *filter(None, [block.dimension]))
        data[block.variable] = (dims, value.reshape(*shape, *value.shape[1:]), _attributes(block))
    data["sample_status"] = (
        data["sample_status"][0],
        data["sample_status"][1].astype(np.int64),
        data["sample_status"][2]
        | {
            "flag_values": np.array(list(MEANING)),
            "flag_meanings": "good tipped no_equilibrium not_finite impossible",
            "comment": "; ".join(f"{code}: {text}" for code, text in MEANING.items()),
        },
    )
    coordinates = _coordinates(experiment, len(rows))
    for histogram in columns.histograms:
        data[f"{histogram.quantity}_histogram"] = _histogram(histogram, names, shape, histograms)
        coordinates[f"{histogram.quantity}_bin"] = _bin_coordinate(histogram)
    data |= _level_values(experiment) | _detail_categories(experiment) | _as_built(experiment)
    uncertain = study.file.uncertain
    if uncertain:
        drawn = np.array([draw(uncertain, study.file.seed, sample) for sample in range(len(rows))])
        coordinates["uncertain"] = ("uncertain", list(uncertain), {"long_name": DIMENSIONS["uncertain"]})
        coordinates["uncertain_unit"] = (
            "uncertain", [one.unit for one in uncertain.values()], {"long_name": "unit of the drawn values"}
        )  # fmt: skip
        data["drawn_value"] = (
            ("sample", "uncertain"), drawn, {"long_name": "value drawn for the sample, in its own unit", "units": "1"}
        )  # fmt: skip
    return xr.Dataset(data, coordinates, attrs=_facts(experiment, len(rows)))


def write_results(dataset: xr.Dataset, path: Path) -> None:
    """Write a Dataset as NetCDF-4, whole or not at all; raise OSError if the disk does not take it."""
    packed = {
        name: {"zlib": True, "complevel": 1} for name, variable in dataset.data_vars.items() if variable.ndim
    }
    # Aside and not to memory at once: a file that the library makes in memory bears the time of day.
    with TemporaryDirectory() as folder:
        aside = Path(folder) / path.name
        try:
            dataset.to_netcdf(aside, engine=ENGINE, encoding=packed)
        except RuntimeError as error:
            raise OSError(f"the folder for temporary files takes no results: {error}") from None
        write_whole(path, aside.read_bytes())


def read_results(path: Path) -> xr.Dataset:
    """Read results into memory; raise InputError if the file is missing or holds no results."""
    if not path.is_file():
        raise InputError(f"{path}: there is no such results file; name the folder that `crossaxle run` wrote")
    try:
        with xr.open_dataset(path, engine=ENGINE) as dataset:
            loaded = dataset.load()
    except DAMAGED as error:
        raise InputError(
            f"{path}: is not a readable results file: {error}; `crossaxle run` with --resume "
            "makes it again from the parts beside it"
        ) from None
    if "distance" not in loaded or "study" not in loaded.attrs:
        raise InputError(f"{path}: holds no results of a study (no distance, or no study text)")
    return loaded


def _attributes(block: ColumnBlock) -> dict[str, str]:
    if block.variable in _TALLIES:
        long_name, units = _TALLIES[block.variable]
        return {"long_name": long_name, "units": units}
    extreme = block.variable.removesuffix("_position")
    name, which = extreme.rsplit("_", 1)
    quantity = QUANTITIES[name]
    long_name = f"{_WORDS[which]} {quantity.long_name}"
    if extreme != block.variable:
        return {"long_name": f"position along the sample of: {long_name}", "units": "m"}
    return {"long_name": long_name, "units": quantity.units}


def _coordinates(experiment: Experiment, samples: int) -> dict[str, Any]:
    coordinates: dict[str, Any] = {}
    for one in experiment.study.swept:
        attributes = {"long_name": one.key} | ({"units": one.unit} if one.unit else {})
        coordinates[one.key] = (one.key, one.coordinate, attributes)
    items: Mapping[str, Any] = {
        "course": [course.name for course in experiment.courses],
        "sample": np.arange(samples),
        "fold": np.arange(FOLDS),
        **experiment.columns.items,
        "axle": _axles(experiment),
    }
    for name, values in items.items():
        coordinates[name] = (name, np.array(values), {"long_name": DIMENSIONS[name]})
    return coordinates


def _histogram(histogram: Histogram, names: tuple[str, ...], shape: tuple[int, ...], counts: Integers) -> Any:
    count, width = histogram.items, histogram.bins.count
    own = counts[..., histogram.start : histogram.start + count * width]
    value = np.moveaxis(own, 0, 2) * histogram.share  # (candidates, courses, folds, bins)
    value = value.reshape(*shape, *value.shape[1:3], *([count] if histogram.dimension else []), width)
    dims = (*names, "course", "fold", *filter(None, [histogram.dimension]), f"{histogram.quantity}_bin")
    words = QUANTITIES[histogram.quantity].long_name
    if histogram.quantity in CYCLES.values():
        return dims, value, {"long_name": f"cycles counted by {words}", "units": "1", "comment": _COUNTING}
    long_name = f"positions counted by {words}"
    return dims, value, {"long_name": long_name, "units": "1", "count_spacing": SPACING_OF_COUNTS}


def _bin_coordinate(histogram: Histogram) -> Any:
    quantity = QUANTITIES[histogram.quantity]
    attributes = {
        "long_name": f"middle of the bins of {quantity.long_name}",
        "units": quantity.units,
        "bin_width": histogram.bins.width,
        "comment": "the first and the last bin also hold what lies beyond",
    }
    return f"{histogram.quantity}_bin", histogram.bins.centres, attributes


def _level_values(experiment: Experiment) -> dict[str, Any]:
    """Values standing level, per candidate and item."""
    study, columns = experiment.study, experiment.columns
    names = tuple(one.key for one in study.swept)
    found: dict[str, Any] = {}
    for name, quantity in QUANTITIES.items():
        if not quantity.static or quantity.dimension not in columns.items:
            continue
        items = columns.items[quantity.dimension]
        value = np.full((len(experiment.candidates), len(items)), np.nan)
        for k, (candidate, recorder) in enumerate(
            zip(experiment.candidates, experiment.recorders, strict=True)
        ):
            for record in recorder.records:
                if record.quantity == name:
                    value[k, items.index(record.item)] = _combined(record, candidate.level)
        attributes = {"long_name": f"{quantity.long_name}, standing level", "units": quantity.units}
        dims = (*names, quantity.dimension)
        found[f"{name}_static"] = (dims, value.reshape(*study.shape, len(items)), attributes)
    heights = np.array([_mass_height(candidate.vehicle.masses) for candidate in experiment.candidates])
    attributes = {"long_name": "height of the centre of mass above level ground", "units": "m"}
    found["mass_height_static"] = (names, heights.reshape(study.shape), attributes)
    return found


def _axles(experiment: Experiment) -> list[str]:
    """Names of the axles of all candidates."""
    return list(dict.fromkeys(axle for one in experiment.candidates for axle in one.vehicle.file.axle))


def _as_built(experiment: Experiment) -> dict[str, Any]:
    """What each candidate is built to: axle loads beside those permitted, and angles to the pivots' stops."""
    study, axles = experiment.study, _axles(experiment)
    pivots = experiment.columns.items.get("pivot", ())
    load, permitted = (np.full((len(experiment.candidates), len(axles)), np.nan) for _ in range(2))
    stops = np.full((len(experiment.candidates), len(pivots)), np.nan)
    for k, candidate in enumerate(experiment.candidates):
        for i, (axle, entry) in enumerate(candidate.vehicle.file.axle.items()):
            at = axles.index(axle)
            load[k, at] = candidate.level[2 * i] + candidate.level[2 * i + 1]  # wheel loads come first
            permitted[k, at] = entry.permitted_load * GRAVITY
        for name, support in candidate.vehicle.layout.supports().items():
            if support.pivot is not None and name in pivots:
                stops[k, pivots.index(name)] = support.pivot.stop_angle
    names = tuple(one.key for one in study.swept)
    found = {
        "axle_load_static": ((*names, "axle"), load, "axle load, standing level", "N"),
        "axle_permitted_load": ((*names, "axle"), permitted, "permitted axle load", "N"),
    }
    if pivots:
        found["pivot_stop_angle"] = (
            (*names, "pivot"),
            stops,
            "angle from level to the stop of the pivot",
            "rad",
        )
    return {
        name: (dims, value.reshape(*study.shape, value.shape[1]), {"long_name": words, "units": units})
        for name, (dims, value, words, units) in found.items()
    }


def _mass_height(masses: Sequence[PointMass]) -> float:
    return sum(one.mass * one.z for one in masses) / sum(one.mass for one in masses)


def _detail_categories(experiment: Experiment) -> dict[str, Any]:
    """Detail category per candidate and bracket, NaN where it has none; nothing where no bracket has one."""
    study, brackets = experiment.study, experiment.columns.items.get("bracket", ())
    named = [detail_categories(candidate.vehicle.file) for candidate in experiment.candidates]
    if not any(named):
        return {}
    value = np.array([[one.get(bracket, np.nan) for bracket in brackets] for one in named])
    attributes = {"long_name": "detail category of EN 1993-1-9:2005 of the bracket's root", "units": "Pa"}
    dims = (*(one.key for one in study.swept), "bracket")
    return {"bracket_detail_category": (dims, value.reshape(*study.shape, len(brackets)), attributes)}


def _combined(record: Record, level: Array) -> float:
    values = level[list(record.channels)]
    if record.combine == Combine.LARGEST_MAGNITUDE:
        return float(np.abs(values).max())
    return float(values.min())


def _facts(experiment: Experiment, samples: int) -> dict[str, Any]:
    """Attributes of the whole: what made these results."""
    file = experiment.study.file
    thresholds = file.thresholds
    return {
        "Conventions": "CF-1.11",
        "title": file.title,
        "note": file.note,
        **experiment.study.attributes(),
        "seed": file.seed,
        "samples": samples,
        "sample_length": file.sample_length,
        "spacing": file.spacing,
        "unload_below": thresholds.unload_below,
        "unload_ends_above": thresholds.unload_ends_above,
        "unload_shortest": thresholds.unload_shortest,
        "range_slope": thresholds.range_slope,
        "range_angle": thresholds.range_angle,
        "dynamic_factor": file.fatigue.dynamic_factor,
        "partial_factor": file.fatigue.partial_factor,
        "versions": versions(),
        "identity": identity(experiment.study),
    }
