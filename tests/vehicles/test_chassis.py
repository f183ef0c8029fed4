"""What is kept of earlier candidates never shows in the numbers of a later one."""

import sys
from dataclasses import fields

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from crossaxle.studies.inputs.reader import read
from crossaxle.vehicles.assemble import assemble
from crossaxle.vehicles.file import VehicleFile
from crossaxle.vehicles.structure import Structure
from tests.conftest import LIBRARY

CANDIDATES = {
    "as shipped": {},
    "another mount": {"mount": "rigid"},
    "sprung": {"mount": "sprung"},
    "another load": {"mass.equipment.mass": "2.5 t"},
    "half its water": {"load_state": "half water"},
    "brackets closer": {"tank.water.spacing": "0.7 m"},
    "longer": {"wheelbase": "4.9 m"},
    "softer tyres": {"axle.rear.tyre.pressure": "4 bar"},
    "weaker joints": {"frame.joint_factor": 0.5},
    "heavier engine": {"mass.engine.mass": "1.2 t"},
}


@pytest.fixture(scope="module", autouse=True)
def one_thread():
    """How many threads share a matrix decides the last bits of its solution."""
    with threadpool_limits(1, user_api="blas"):
        yield


def forget() -> None:
    """Empty everything the modules of this room keep, as in a process just started."""
    for name, module in list(sys.modules.items()):
        if name.startswith("crossaxle.vehicles."):
            for kept in vars(module).values():
                if hasattr(kept, "cache_clear"):
                    kept.cache_clear()


def file(changes):
    return read(LIBRARY / "clinic.toml", VehicleFile, changes)


def bits(vehicle):
    """Every number and name of a structure, arrays as bytes."""
    contents = {}
    for field in fields(Structure):
        value = getattr(vehicle.structure, field.name)
        contents[field.name] = value.tobytes() if isinstance(value, np.ndarray) else value
    return contents | {"level": vehicle.level.tobytes(), "said": (vehicle.assumptions, vehicle.warnings)}


@pytest.mark.parametrize("bare", [False, True])
def test_a_candidate_is_the_same_whatever_was_assembled_before_it(bare):
    """Bit for bit: first in a fresh process, after some and after all others."""
    files = {name: file(changes) for name, changes in CANDIDATES.items()}
    fresh = {}
    for name in files:
        forget()
        fresh[name] = bits(assemble(files[name], bare))
    forget()
    for name in [*files, *reversed(files)]:
        assert bits(assemble(files[name], bare)) == fresh[name], name
    assert bare or len({tuple(contents.values()) for contents in fresh.values()}) == len(files)


def test_candidates_that_list_their_parts_in_another_order_are_told_apart():
    """Equal but for the order of cross-members and masses: outputs follow each file's own order."""
    one = file({})
    turned = dict(reversed(one.frame.cross_member.items()))
    other = one.model_copy(
        update={
            "frame": one.frame.model_copy(update={"cross_member": turned}),
            "mass": dict(reversed(one.mass.items())),
        }
    )
    assert one == other
    assemble(one)
    after = assemble(other)
    forget()
    assert bits(after) == bits(assemble(other))
    assert after.structure.outputs != assemble(one).structure.outputs


def test_what_is_carried_does_not_reach_the_chassis():
    """Bare trucks under different bodies, mounts and tanks are one and the same but for where their stops begin."""
    bare = [
        assemble(file(CANDIDATES[name]), bare=True).structure
        for name in ("as shipped", "sprung", "brackets closer", "another load")
    ]
    for other in bare[1:]:
        assert np.array_equal(bare[0].stiffness, other.stiffness)
        assert np.array_equal(bare[0].hinge_row, other.hinge_row)
        assert np.array_equal(bare[0].geometric, other.geometric)
