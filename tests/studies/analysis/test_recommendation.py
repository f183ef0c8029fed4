"""What is recommended: limits before outcomes, ties said as ties, and nothing that cannot be built as drawn."""

import json

import numpy as np
import pytest
import xarray as xr

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.recommendation import recommend
from crossaxle.studies.report.page_one import page_one
from crossaxle.studies.report.verdict_file import verdict_json

KM = 1000.0
N = 300


def made(study: str = "", **changes) -> xr.Dataset:
    """Three spacings on the same ground: events 1.0, 1.0 and 0.3 a km, one gap of 100 mm, one bracket."""
    random = np.random.default_rng(1)
    shape = (3, 1, N)
    common = random.poisson(0.3, (1, 1, N))
    events = np.stack(
        [common[0] + random.poisson(0.7, (1, N)), common[0] + random.poisson(0.7, (1, N)), common[0]]
    )
    movement = 0.02 + 0.004 * random.gumbel(size=shape)
    dims = ("spacing", "course", "sample")
    data = {
        "distance": (dims, np.full(shape, KM)),
        "sample_status": (dims, np.zeros(shape, dtype=int)),
        "unload_events": ((*dims, "wheel"), events[..., None].astype(float)),
        "free_events": ((*dims, "wheel"), np.zeros((*shape, 1))),
        "gap_minimum": ((*dims, "gap"), (0.1 - movement)[..., None]),
        "gap_static": (("spacing", "gap"), np.full((3, 1), 0.1)),
        "outside_range_distance": (dims, np.zeros(shape)),
        "contact_distance": (dims, np.zeros(shape)),
        "axle_load_static": (("spacing", "axle"), np.full((3, 1), 50e3)),
        "axle_permitted_load": (("spacing", "axle"), np.full((3, 1), 60e3)),
    }
    ds = xr.Dataset(
        data,
        {
            "spacing": [1.0, 1.2, 1.4],
            "wheel": ["front left"],
            "gap": ["tank to floor"],
            "axle": ["rear"],
            "course": ["a"],
        },
        {"study": f'title = "t"\n{study}'},
    )
    ds["gap_minimum"].attrs["units"] = "m"
    return ds.assign({name: (ds[name].dims, value) for name, value in changes.items()})


def worse_gap(ds: xr.Dataset, place: int, by: float) -> np.ndarray:
    gap = ds["gap_minimum"].values.copy()
    gap[place] -= by
    return gap


def test_the_candidate_with_fewest_events_is_recommended_if_it_keeps_all_limits():
    found = recommend(made())
    assert (found.recommended, found.tied) == (2, [])
    assert found.decided_by is not None and found.decided_by.key == "unload_events"
    assert [limit.what for limit in found.limits] == ["gap"] and found.stated == 0


def test_candidates_that_the_ground_cannot_tell_apart_are_tied():
    """The two with the same rate of events and the same kind of movement, without the third."""
    found = recommend(made().isel(spacing=[0, 1]))
    assert found.recommended is None
    assert sorted(found.tied) == [0, 1]
    page = page_one(made().isel(spacing=[0, 1]))
    assert page.lead[0].startswith("Tied: ")


def test_limits_come_before_outcomes():
    ds = made()
    found = recommend(ds.assign(gap_minimum=(ds["gap_minimum"].dims, worse_gap(ds, 2, 0.09))))
    assert found.order[-1] == 2 and found.fails(2)
    assert found.recommended != 2


def test_nothing_is_recommended_where_all_fail():
    ds = made()
    ds = ds.assign(gap_minimum=ds["gap_minimum"] - 0.09)
    page = page_one(ds)
    assert page.recommendation is not None and page.recommendation.recommended is None
    assert page.lead[0].startswith("None of the candidates can be built as drawn.")
    assert any(
        "tank to floor" in sentence.lower() and "mm drawn" in sentence for sentence in page.changes_to_build
    )
    assert page.failures is not None and len(page.failures.rows) == 3


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"axle_load_static": np.array([[50e3], [50e3], [61e3]])},
            "rear axle carries 61.0 kN, permitted 60.0 kN",
        ),
        (
            {"sample_status": np.where(np.arange(3)[:, None, None] == 2, np.eye(1, N), 0).astype(int)},
            "tipped in 1 of 300",
        ),
    ],
)
def test_overload_and_tipping_fail_outright_unless_switched_off(changes, words):
    found = recommend(made(**changes))
    assert found.fails(2) and words in found.outright[2][0]
    off = recommend(made("[implied_limits]\nloads = false\ntipping = false\n", **changes))
    assert not off.outright and off.recommended == 2


def test_implied_limits_are_switched_off_one_by_one():
    ds = made("[implied_limits]\ngaps = false\n")
    assert recommend(ds).limits == []


def test_a_stop_that_is_reached_is_a_limit_missed():
    ds = made()
    angle = np.full((3, 1, N, 1), 0.05) + 0.001 * np.random.default_rng(2).random((3, 1, N, 1))
    angle[2] = 0.16
    ds["pivot_angle_maximum"] = ((*ds["distance"].dims, "pivot"), angle)
    ds["pivot_stop_angle"] = (("spacing", "pivot"), np.full((3, 1), 0.157))
    ds = ds.assign_coords(pivot=["front pivot"])
    found = recommend(ds)
    assert found.fails(2) and not found.fails(0)
    assert any("front pivot reaches its stop" in row[1].text.lower() for row in page_one(ds).failures.rows)


def test_the_verdict_as_data_says_what_page_one_says():
    ds = made()
    page = page_one(ds)
    data = json.loads(verdict_json(ds, [page]))
    names = [c.name for c in candidates(ds)]
    assert data["recommended"] == names[2] and data["tied"] == []
    assert data["reasons"] == page.lead
    assert len(data["limits"]) == 3 and data["cautions"]


def test_who_wrote_and_checked_stands_on_page_one():
    signature = dict(page_one(made('revision = "C"\nauthor = "A. Person"\n')).signature)
    assert (
        signature["Study revision"] == "C"
        and signature["Author"] == "A. Person"
        and signature["Checked by"] == ""
    )
