"""Collects springs, hinges, loads and outputs and turns them into a `Structure`.

A spring acts on e = row q + ground z + offset with force stiffness * e; its energy is half of
stiffness * e^2. Hinges and outputs are those of `vehicles.structure`.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from vehicles.structure import Output, Structure

Array = NDArray[np.float64]


class Equations:
    """Builder of a `Structure` with n degrees of freedom and w wheels."""

    def __init__(self, n: int, n_wheels: int) -> None:
        self.n = n
        self.n_wheels = n_wheels
        self._springs: list[tuple[Array, Array, float, float]] = []
        self._hinges: list[tuple[str, Array, Array, float, float]] = []
        self._outputs: list[tuple[Output, Array, Array, Array, Mapping[str, float], float]] = []

    def spring(self, row: Array, stiffness: float, offset: float = 0.0, ground: Array | None = None) -> None:
        """Add a linear spring."""
        self._springs.append((row, self._ground(ground), offset, stiffness))

    def hinge(
        self, name: str, row: Array, offset: float, stiffness: float, ground: Array | None = None
    ) -> None:
        """Add a hinge: beyond row q + ground z + offset > 0 the stiffness along it changes by ``stiffness``."""
        self._hinges.append((name, row, self._ground(ground), offset, stiffness))

    def output(
        self,
        output: Output,
        row: Array | None = None,
        *,
        ground: Array | None = None,
        gravity: Sequence[float] = (0.0, 0.0, 0.0),
        hinges: Mapping[str, float] | None = None,
        constant: float = 0.0,
    ) -> None:
        """Add an output; ``hinges`` are factors on the hinge forces by name."""
        row = np.zeros(self.n) if row is None else row
        gravity_row = np.asarray(gravity, dtype=float)
        self._outputs.append((output, row, self._ground(ground), gravity_row, hinges or {}, constant))

    def stiffness(self, blocks: Sequence[tuple[int, Array]]) -> Array:
        """Stiffness matrix of all springs and of blocks, each with its first degree of freedom, (n, n)."""
        rows = np.array([row for row, *_ in self._springs])
        weights = np.array([spring[3] for spring in self._springs])
        matrix: Array = rows.T @ (weights[:, None] * rows)
        for first, block in blocks:
            matrix[first : first + len(block), first : first + len(block)] += block
        return matrix

    def load_constant(self) -> Array:
        """Generalised force of the springs' offsets, (n,)."""
        load = np.zeros(self.n)
        for row, _, offset, stiffness in self._springs:
            load -= stiffness * offset * row
        return load

    def structure(
        self,
        blocks: Sequence[tuple[int, Array]],
        geometric: Array,
        load_gravity: Array,
        wheel_station: Array,
        wheel_y: Array,
        dof_names: tuple[str, ...],
    ) -> Structure:
        """Everything collected, as arrays; the hinges that stiffen come first."""
        load_ground = np.zeros((self.n_wheels, self.n))
        for row, ground, _, stiffness in self._springs:
            for wheel in np.flatnonzero(ground):
                load_ground[wheel] -= stiffness * ground[wheel] * row
        hinges = sorted(self._hinges, key=lambda hinge: hinge[4] < 0)
        number = {name: i for i, (name, *_) in enumerate(hinges)}
        output_hinge = np.zeros((len(self._outputs), len(hinges)))
        for i, (_, _, _, _, factors, _) in enumerate(self._outputs):
            for name, factor in factors.items():
                output_hinge[i, number[name]] = factor
        return Structure(
            stiffness=self.stiffness(blocks),
            geometric=geometric,
            load_gravity=load_gravity,
            load_ground=load_ground,
            load_constant=self.load_constant(),
            hinge_row=np.array([h[1] for h in hinges]),
            hinge_ground=np.array([h[2] for h in hinges]),
            hinge_offset=np.array([h[3] for h in hinges]),
            hinge_stiffness=np.array([h[4] for h in hinges]),
            output_row=np.array([o[1] for o in self._outputs]),
            output_ground=np.array([o[2] for o in self._outputs]),
            output_gravity=np.array([o[3] for o in self._outputs]),
            output_hinge=output_hinge,
            output_constant=np.array([o[5] for o in self._outputs]),
            wheel_station=wheel_station,
            wheel_y=wheel_y,
            outputs=tuple(o[0] for o in self._outputs),
            hinge_names=tuple(h[0] for h in hinges),
            dof_names=dof_names,
        )

    def _ground(self, ground: Array | None) -> Array:
        return np.zeros(self.n_wheels) if ground is None else ground
