"""The compiled kernel against the readable solver on the benchmark's own vehicles and ground, position by position."""

from dataclasses import replace

from crossaxle.sim.tracks import Segment, WheelTracks
from tests.benchmarks.scene import OUTPUTS, POSITIONS, ground, runner, vehicle
from tests.sim import slow
from tests.sim.test_kernel import assert_same

CASES = (
    ("clinic", None, "ondry_ridge"),
    ("clinic", "sprung", "kurrin_pass"),
    ("clinic", "sprung", "wadi_tamrun"),
    ("laboratory", None, "ondry_ridge"),
    ("rescue", None, "ondry_ridge"),
)
"""Vehicle, mount and course of the kernel's rows in the speed table."""


def check(name: str, mount: str | None, course: str, start: int = 0, positions: int = POSITIONS) -> float:
    """Raise AssertionError if the kernel differs by more than rounding; return the share off the reference segments.

    Floats within 1e-9 of the largest magnitude, counts exactly; positions from ``start`` of the benchmark's ground.
    """
    made = vehicle(name, mount)
    piece = _piece(ground(made, course), start, positions)
    one = runner(made, OUTPUTS)
    found = one.run(piece)
    wanted = slow.keep(one.recorder, slow.postures(list(one.models), piece), piece.spacing, one.static_load)
    assert_same(found, wanted)
    return found.exceptional_distance / found.distance


def _piece(whole: WheelTracks, start: int, positions: int) -> WheelTracks:
    count = min(positions, whole.n_positions - start)
    points = slice(start, start + whole.lead + count)
    return replace(
        whole,
        heights=whole.heights[:, points],
        grade=whole.grade[points],
        side_slope=whole.side_slope[points],
        segments=(Segment(0, count),),
    )


def check_all() -> None:
    """Compare all cases on the whole ground; some minutes."""
    for name, mount, course in CASES:
        share = check(name, mount, course)
        print(
            f"{name}, {mount or 'its own mount'}, {course}: the same to rounding at {POSITIONS:,} positions, "
            f"{100 * share:.1f} % off the reference segments"
        )
