"""What fails without any stated limit: gaps that close, stops that are used up, overloads, early cracks, tipping."""

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import candidates, items, values
from crossaxle.studies.analysis.fatigue_life import has_fatigue
from crossaxle.studies.base.number_format import fixed
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.study.aims import Aims
from crossaxle.studies.study.limits import Limit

STOP_SHARE = QUANTITIES["pivot_stop_share"].limit
USUAL_DISTANCE = 1e6
"""Distance over which implied limits on levels hold where the study states no life [m]."""


def implied_limits(ds: xr.Dataset, stated: Aims) -> list[Limit]:
    """List the limits that a study implies, as far as the results have what they are on.

    A limit of the same kind on all items that the study states itself takes their place.
    """
    over = stated.life if stated.life_is_stated else USUAL_DISTANCE
    own = {limit.what for limit in stated.limits if not limit.item}
    wanted: list[dict[str, object]] = []
    if stated.implied.gaps and ds.sizes.get("gap"):
        wanted.append({"what": "gap", "at_least": "0 mm"})
    if stated.implied.stops and "pivot_stop_angle" in ds:
        wanted.append({"what": STOP_SHARE, "at_most": f"{100 * stated.implied.stop_share:.9g} %"})
    if stated.implied.cracks and stated.life_is_stated and has_fatigue(ds):
        wanted.append({"what": "distance to crack", "at_least": f"{stated.life:.12g} m"})
    common = {"over": f"{over:.12g} m", "risk": f"{100 * stated.risk:.9g} %"}
    return [Limit.model_validate({**one, **common}) for one in wanted if one["what"] not in own]


def with_stop_share(ds: xr.Dataset) -> xr.Dataset:
    """Add the share of the angle to its stop that each pivot uses at the most, where there are pivots."""
    if "pivot_stop_angle" not in ds or "pivot_angle_maximum" not in ds:
        return ds
    share = ds["pivot_angle_maximum"] / ds["pivot_stop_angle"]
    return ds.assign(pivot_stop_share_maximum=share.transpose(*ds["pivot_angle_maximum"].dims))


def outright_failures(ds: xr.Dataset, stated: Aims, course: int = 0) -> dict[int, list[str]]:
    """Say what fails whatever the ground's luck, or was seen to: axles above their permitted load, samples that tipped.

    Returns
    -------
    dict of candidate to list of str
        Those with a failure.
    """
    found: dict[int, list[str]] = {}
    if stated.implied.loads and "axle_load_static" in ds:
        load, permitted = values(ds, "axle_load_static"), values(ds, "axle_permitted_load")
        for c in candidates(ds):
            for k, axle in enumerate(items(ds, "axle")):
                if load[c.index, k] > permitted[c.index, k]:
                    found.setdefault(c.index, []).append(
                        f"{axle} axle carries {fixed(load[c.index, k] / 1e3, 1)} kN, "
                        f"permitted {fixed(permitted[c.index, k] / 1e3, 1)} kN"
                    )
    if stated.implied.tipping:
        tipped = (values(ds, "sample_status", course) == 1).sum(axis=1)
        for c in candidates(ds):
            if tipped[c.index]:
                of = int(np.isfinite(values(ds, "distance", course)[c.index]).sum())
                found.setdefault(c.index, []).append(f"tipped in {int(tipped[c.index])} of {of} samples")
    return found
