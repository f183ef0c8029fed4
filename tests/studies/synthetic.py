"""A made-up results Dataset with the layout of results.nc: invented names, plausible sizes, no physics.

Every sample has a roughness of its own, common to all candidates, so that candidates are correlated as on
common ground. Events come in bunches. Extremes are Gumbel-like with a location that grows with roughness.
"""

from collections.abc import Sequence

import numpy as np
import xarray as xr

from crossaxle.arrays import Array, Booleans

WHEELS = ("front left", "front right", "rear left", "rear right")
GAPS = (
    "cab roof to alcove",
    "cab back to body",
    "tank top to floor",
    "service hatch to rail",
    "rear body corner to under-run bar",
)
BRACKETS = ("tank front bracket", "tank rear bracket")
MOUNT_POINTS = ("front pivot", "front left", "front right", "rear left", "rear right")
PIVOTS = ("front pivot",)
CLEARANCE = np.array([0.090, 0.150, 0.060, 0.080, 0.120])
FOLDS = 20


def dataset(
    candidates: dict[str, Sequence[object]] | None = None,
    *,
    courses: Sequence[str] = ("invented quarry tracks",),
    n_samples: int = 200,
    gaps: Sequence[str] = GAPS,
    brackets: Sequence[str] = BRACKETS,
    tanks: Sequence[str] = ("main tank",),
    quiet: bool = False,
    uncertain: bool = False,
    failed: int = 0,
    seed: int = 7,
    study: str = 'title = "Field clinic, invented"\nsamples = 200\n',
) -> xr.Dataset:
    """Make the Dataset; ``quiet`` leaves every event out, ``failed`` samples have a bad status and no numbers."""
    candidates = candidates or {"wheelbase": (3.8, 4.4, 5.0), "mount": ("rigid", "pivoting")}
    rng = np.random.Generator(np.random.Philox(seed))
    shape = tuple(len(v) for v in candidates.values())
    full = (*shape, len(courses), n_samples)
    dims = (*candidates, "course", "sample")
    rigid, length = _factors(candidates, shape)
    rough = rng.gamma(2.0, 0.5, (len(courses), n_samples)) * np.linspace(1, 1.6, len(courses))[:, None]
    own = rough * rng.gamma(30.0, 1 / 30.0, full)
    data: dict[str, tuple[tuple[str, ...], Array, dict[str, str]]] = {}

    def put(name: str, value: Array, unit: str, long_name: str, *item: str) -> None:
        data[name] = ((*dims, *item), np.broadcast_to(value, full + value.shape[len(full) :]).copy(), {})
        data[name][2].update(units=unit, long_name=long_name)

    def extreme(name: str, value: Array, unit: str, long_name: str, *item: str) -> None:
        put(name, value, unit, long_name, *item)
        where = rng.uniform(0, 1000, value.shape)
        put(f"{name}_position", where, "m", f"position along the sample of: {long_name}", *item)

    def spread(shape: tuple[int, ...]) -> Array:
        return 1 + 0.08 * rng.gumbel(size=shape)

    put("distance", np.full(full, 1000.0), "m", "distance driven")
    level = np.where(rigid, 2.4, 0.05) * length**1.5
    level = 0 * level if quiet else level
    share = np.array([0.38, 0.36, 0.12, 0.14])
    counts = rng.poisson((level[..., None, None] * own)[..., None] * share / 1.4)
    counts = counts + rng.binomial(counts, 0.4)
    free = rng.binomial(counts, 0.3)
    put("unload_events", counts.astype(float), "1", "unload events", "wheel")
    put("free_events", free.astype(float), "1", "times a wheel is free", "wheel")
    put("unloaded_distance", counts * rng.uniform(0.2, 1.2, counts.shape), "m", "distance unloaded", "wheel")
    put("free_distance", free * rng.uniform(0.1, 0.5, counts.shape), "m", "distance free", "wheel")
    static = np.array([24e3, 24.4e3, 31e3, 30.2e3])
    dip = np.clip(
        0.9 - 0.45 * np.sqrt(own)[..., None] * np.where(rigid, 1.3, 0.7)[..., None, None, None], 0, 1
    )
    extreme("wheel_load_minimum", static * dip * np.ones(4), "N", "smallest wheel load", "wheel")
    extreme("wheel_load_maximum", static * (2 - dip), "N", "largest wheel load", "wheel")

    twist = np.radians(np.where(rigid, 2.2, 4.5) * length)[..., None, None] * np.sqrt(own)
    motion = np.where(rigid, 0.12, 0.5)[..., None, None, None] * np.sqrt(own)[..., None]
    small = motion * CLEARANCE[0] * np.linspace(1.0, 0.6, len(gaps)) * spread((*full, len(gaps)))
    clearance = np.resize(CLEARANCE, len(gaps))
    extreme("gap_minimum", clearance - small, "m", "smallest gap", "gap")
    extreme("gap_maximum", clearance + small, "m", "largest gap", "gap")
    stress = 1e6 * np.array([95.0, 120.0])[np.arange(len(brackets)) % 2]
    peak = stress * (0.45 + 0.5 * np.sqrt(own)[..., None] * spread((*full, len(brackets))))
    extreme("bracket_stress_maximum", peak, "Pa", "largest bracket root stress", "bracket")
    extreme("strap_force_maximum", peak * 5e-5, "N", "largest strap force", "bracket")
    one = np.ones(len(tanks))
    extreme(
        "tank_level_difference_maximum", twist[..., None] * 0.1 * one, "m", "largest level difference", "tank"
    )
    extreme("tank_torque_maximum", twist[..., None] * 6e3 * one, "N m", "largest tank torque", "tank")
    extreme("frame_twist_maximum", twist * spread(full), "rad", "largest frame twist")
    torque = np.where(rigid, 21e3, 0.6e3)[..., None, None] * np.sqrt(own) * spread(full)
    extreme("body_torque_maximum", torque, "N m", "largest body torque")
    lean = np.radians(np.where(rigid, 2.5, 4.1))[..., None, None] * np.sqrt(own) * spread(full)
    extreme("body_roll_maximum", lean, "rad", "largest lean of the body")
    present = np.array([[np.nan, 1, 1, 1, 1], [1, np.nan, np.nan, 1, 1]])
    present = present[np.where(rigid, 0, 1)][..., None, None, :]
    travel = np.where(rigid, 0.002, 0.045)[..., None, None, None] * np.sqrt(own)[..., None] * present
    extreme("mount_travel_maximum", travel, "m", "largest mount travel", "mount_point")
    force = 15e3 * (1 + np.where(rigid, 1.2, 0.3)[..., None, None, None] * np.sqrt(own)[..., None]) * present
    extreme("mount_force_maximum", force, "N", "largest mount force", "mount_point")
    extreme("mount_force_minimum", 30e3 * present - force, "N", "smallest mount force", "mount_point")
    pivot = np.where(rigid, np.nan, np.radians(4.0))[..., None, None, None] * np.sqrt(own)[..., None]
    extreme("pivot_angle_maximum", pivot, "rad", "largest pivot angle", "pivot")
    extreme("tip_margin_minimum", 0.9 - 0.2 * np.sqrt(own), "1", "smallest tip margin")
    put("tipped_distance", np.zeros(full), "m", "distance without an admissible posture")
    put("outside_range_distance", np.zeros(full), "m", "distance outside the range of small angles")
    put("contact_distance", np.zeros(full), "m", "distance with parts in contact")
    put("sample_status", np.zeros(full), "1", "0 good, 1 tipped, 2 no equilibrium, 3 not finite")
    if failed:
        for name, (_, values, _) in data.items():
            bad = (*(slice(None) for _ in shape), slice(None), slice(0, failed))
            values[bad] = 3 if name == "sample_status" else np.nan

    ds = xr.Dataset(data)
    ds["sample_status"] = ds["sample_status"].astype(int)
    _histograms(ds, rng, dims[:-1], twist, torque, lean, small, peak, dip * static, clearance)
    cand = tuple(candidates)
    ones = np.ones(shape)
    for name, value, unit, item in (
        ("wheel_load_static", static, "N", "wheel"),
        ("gap_static", clearance, "m", "gap"),
        ("bracket_stress_static", stress * 0.45, "Pa", "bracket"),
    ):
        ds[name] = ((*cand, item), ones[..., None] * value, {"units": unit, "long_name": f"{name}, level"})
    ds["mount_force_static"] = ((*cand, "mount_point"), 15e3 * present[..., 0, 0, :], {"units": "N"})
    ds = ds.assign_coords(
        {k: list(v) for k, v in candidates.items()}
        | {"course": list(courses), "wheel": list(WHEELS), "gap": list(gaps), "tank": list(tanks)}
        | {"bracket": list(brackets), "mount_point": list(MOUNT_POINTS), "pivot": list(PIVOTS)}
    )
    if "wheelbase" in ds.coords:
        ds["wheelbase"].attrs = {"units": "m", "long_name": "wheelbase"}
    if uncertain:
        drawn = rng.random((n_samples, 2))
        ds["drawn_value"] = (("sample", "uncertain"), drawn, {"units": "1", "long_name": "value drawn"})
        ds = ds.assign_coords(uncertain=["body.mass", "tyres.pressure"])
        ds["body_roll_maximum"] = ds["body_roll_maximum"] * (0.5 + xr.DataArray(drawn[:, 0], dims="sample"))
        ds["body_roll_maximum"].attrs = {"units": "rad", "long_name": "largest lean of the body"}
    ds.attrs = {
        "study": study,
        "seed": seed,
        "versions": "crossaxle 0.1.0, numpy 2.4",
        "unload_below": 0.10,
        "unload_ends_above": 0.15,
        "unload_shortest": 0.1,
    }
    return ds


def _factors(candidates: dict[str, Sequence[object]], shape: tuple[int, ...]) -> tuple[Booleans, Array]:
    """Which candidates are rigidly mounted, and their length relative to 4.4 m."""
    names = list(candidates)
    grid = np.indices(shape) if shape else np.zeros((0,))
    rigid = np.ones(shape, dtype=bool)
    length = np.ones(shape)
    if "mount" in names:
        rigid = np.array([v == "rigid" for v in candidates["mount"]])[grid[names.index("mount")]]
    if "wheelbase" in names:
        length = np.asarray(candidates["wheelbase"], dtype=float)[grid[names.index("wheelbase")]] / 4.4
    return rigid, length


def _histograms(ds, rng, dims, twist, torque, lean, small, peak, load, clearance):  # type: ignore[no-untyped-def]
    """Add the folded histograms: each sample is normal with a third of its extreme as standard deviation."""
    for name, scale, centre, width, item, unit in (
        ("frame_twist", twist / 3, 0.0, np.radians(0.25), None, "rad"),
        ("body_torque", torque / 3, 0.0, 500.0, None, "N m"),
        ("body_roll", lean / 3, 0.0, np.radians(0.25), None, "rad"),
        ("gap", small / 3, clearance, 0.002, "gap", "m"),
        ("bracket_stress", peak / 6, 60e6, 2e6, "bracket", "Pa"),
        ("wheel_load", load * 0 + 3e3, load * 0.5 + 12e3, 1e3, "wheel", "N"),
    ):
        if not scale.size:
            continue
        low = np.nanmin(centre - 5 * scale)
        high = np.nanmax(centre + 5 * scale)
        edges = np.arange(np.floor(low / width), np.ceil(high / width) + 1) * width
        middle = (edges[:-1] + edges[1:]) / 2
        if item is None:
            scale = scale[..., None]
        standard = (edges - np.asarray(centre)[..., None]) / scale[..., None]
        cdf = 0.5 * (1 + np.tanh(0.851 * standard))
        counts = rng.poisson(np.nan_to_num(np.diff(cdf, axis=-1)) * 5000)  # (..., sample, item, bin)
        sample_axis = len(dims)
        folds = [
            counts.take(range(f, counts.shape[sample_axis], FOLDS), axis=sample_axis) for f in range(FOLDS)
        ]
        folded = np.stack([f.sum(axis=sample_axis) for f in folds], axis=sample_axis).astype(float)
        bins = f"{name}_bin"
        if item is None:
            folded = folded[..., 0, :]
            var_dims = (*dims, "fold", bins)
        else:
            var_dims = (*dims, "fold", item, bins)
        ds[f"{name}_histogram"] = (var_dims, folded, {"units": "1", "count_spacing": 0.2})
        ds[f"{name}_histogram"].attrs["long_name"] = f"counts of {name} every 0.2 m"
        ds.coords[bins] = (bins, middle, {"units": unit, "bin_width": width})
