"""The fast path on pieces of the benchmark's own input; `python -m tests.benchmarks --check` takes all of it."""

import pytest

from tests.benchmarks.identical import CASES, check


@pytest.mark.parametrize(("name", "mount", "course"), CASES)
def test_kernel_is_the_readable_solver_on_the_benchmark(name: str, mount: str | None, course: str) -> None:
    shares = [check(name, mount, course, start, 700) for start in (0, 150_000)]
    assert mount is None or max(shares) > 0.0, "no position was off the reference segments"
