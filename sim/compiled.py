"""How compiled code is compiled: cached on disk, without the interpreter's lock, IEEE arithmetic.

Sums keep their order (no fast-math), so results are the same bits compiled or interpreted, on any processor.

The cache on disk knows the file of the outermost function alone: after a change in another file of compiled
code delete the files ``sim/__pycache__/*.nb?`` (a fresh installation has none).
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Compile a function of numbers, arrays and named tuples of arrays when it is first called."""
    done: Any = njit(cache=True, nogil=True, error_model="numpy")(function)
    return cast(F, done)


def compiled_in_place(function: F) -> F:
    """The same for parts of a larger compiled function, to be merged into it: calls with many arrays are dear."""
    done: Any = njit(cache=True, nogil=True, error_model="numpy", inline="always")(function)
    return cast(F, done)
