"""Collects springs, hinges and outputs and turns them into a `Structure`.

A spring acts on e = row q + ground z + offset with force stiffness * e; its energy is half of
stiffness * e^2. Hinges and outputs are those of `crossaxle.vehicles.structure`. Rows may be shorter than the degrees of
freedom: they act on the first ones. Some count from the laden truck standing level, a posture known only when
all springs are: their constants are worked out last.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.gravity import GravityLoads
from crossaxle.vehicles.rows import add_squares, stacked
from crossaxle.vehicles.structure import Output, Structure


class Equations:
    """Builder of a `Structure` with n degrees of freedom and w wheels, of which the first w outputs are the loads.

    Parameters
    ----------
    n, n_wheels : int
    part : Equations, optional
        What stands already, on the first of the degrees of freedom; it is left as it is.
    """

    def __init__(self, n: int, n_wheels: int, part: "Equations | None" = None) -> None:
        self.n = n
        self.n_wheels = n_wheels
        self._stiffness = np.zeros((n, n))
        self._load_ground = np.zeros((n_wheels, n))
        self._load_constant = np.zeros(n)
        self._springs: list[tuple[Array, float, float]] = []
        self._hinges: list[tuple[str, Array, Array | None, float, float, bool]] = []
        self._outputs: list[
            tuple[
                Output, Array | None, Array | None, Sequence[float], Mapping[str, float], float, Array | None
            ]
        ] = []
        if part is not None:
            self._stiffness[: part.n, : part.n] = part.stiffness
            self._load_ground[:, : part.n] = part._load_ground
            self._load_constant[: part.n] = part.load_constant
            self._hinges += part._hinges
            self._outputs += part._outputs

    def spring(self, row: Array, stiffness: float, offset: float = 0.0) -> None:
        """Add a linear spring that the ground does not touch."""
        self._springs.append((row, stiffness, offset))

    def wheel_spring(self, wheel: int, row: Array, stiffness: float) -> None:
        """Add a wheel's spring: it acts on row q plus the ground's height under the wheel."""
        self.spring(row, stiffness)
        self._load_ground[wheel] -= stiffness * row

    def elastic_part(self, first: int, stiffness: Array) -> None:
        """Add a stiffness matrix from a degree of freedom on."""
        own = slice(first, first + len(stiffness))
        self._stiffness[own, own] += stiffness

    def hinge(
        self,
        name: str,
        row: Array,
        offset: float,
        stiffness: float,
        *,
        ground: Array | None = None,
        from_level: bool = False,
    ) -> None:
        """Add a hinge: beyond row q + ground z + offset > 0 the stiffness along it changes by ``stiffness``.

        ``from_level``: q counts from the laden truck standing level.
        """
        self._hinges.append((name, row, ground, offset, stiffness, from_level))

    def output(
        self,
        output: Output,
        row: Array | None = None,
        *,
        ground: Array | None = None,
        gravity: Sequence[float] = (0.0, 0.0, 0.0),
        hinges: Mapping[str, float] | None = None,
        constant: float = 0.0,
        from_level: Array | None = None,
    ) -> None:
        """Add an output.

        ``hinges`` are factors on the hinge forces by name; ``from_level`` is the row, or that part of it, for
        which q counts from the laden truck standing level.
        """
        self._outputs.append((output, row, ground, gravity, hinges or {}, constant, from_level))

    @property
    def stiffness(self) -> Array:
        """Stiffness matrix of all springs and elastic parts, (n, n)."""
        self._sum_springs()
        return self._stiffness

    @property
    def load_constant(self) -> Array:
        """Generalised force of the springs' offsets, (n,)."""
        self._sum_springs()
        return self._load_constant

    def wheel_load_rows(self) -> tuple[Array, Array]:
        """Rows of the wheel loads over displacements (w, n) and over ground heights (w, w) [N], all wheels down."""
        loads = self._outputs[: self.n_wheels]
        return stacked([load[1] for load in loads], self.n), stacked(
            [load[2] for load in loads], self.n_wheels
        )

    @property
    def wheel_names(self) -> list[str]:
        """Names of the wheels."""
        return [output[0].item for output in self._outputs[: self.n_wheels]]

    def structure(
        self,
        level: Array,
        gravity: GravityLoads,
        wheel_station: Array,
        wheel_y: Array,
        dof_names: tuple[str, ...],
    ) -> Structure:
        """Everything collected, as arrays; the hinges that stiffen come first.

        ``level`` are the displacements with the laden truck level, (n,).
        """
        # Places in a file are those of the laden truck standing level: gravity's stiffness counts from there.
        load_gravity = gravity.load.copy()
        load_gravity[2] -= gravity.geometric @ level
        names, rows, grounds, offsets, stiffness, counted = zip(
            *sorted(self._hinges, key=lambda hinge: hinge[4] < 0), strict=True
        )
        hinge_row = stacked(rows, self.n)
        outputs, output_rows, output_grounds, gravities, factors, constants, counted_rows = zip(
            *self._outputs, strict=True
        )
        number = {name: i for i, name in enumerate(names)}
        output_hinge = np.zeros((len(outputs), len(names)))
        for i, by_name in enumerate(factors):
            for name, factor in by_name.items():
                output_hinge[i, number[name]] = factor
        return Structure(
            stiffness=self.stiffness,
            geometric=gravity.geometric,
            load_gravity=load_gravity,
            load_ground=self._load_ground,
            load_constant=self.load_constant,
            hinge_row=hinge_row,
            hinge_ground=stacked(grounds, self.n_wheels),
            hinge_offset=np.array(offsets) - np.array(counted) * (hinge_row @ level),
            hinge_stiffness=np.array(stiffness),
            output_row=stacked(output_rows, self.n),
            output_ground=stacked(output_grounds, self.n_wheels),
            output_gravity=np.array(gravities, dtype=np.float64),
            output_hinge=output_hinge,
            output_constant=np.array(constants) - stacked(counted_rows, self.n) @ level,
            wheel_station=wheel_station,
            wheel_y=wheel_y,
            outputs=outputs,
            hinge_names=names,
            dof_names=dof_names,
        )

    def _sum_springs(self) -> None:
        if self._springs:
            rows = stacked([row for row, *_ in self._springs], self.n)
            rates = np.array([stiffness for _, stiffness, _ in self._springs])
            offsets = np.array([offset for *_, offset in self._springs])
            add_squares(self._stiffness, rows, rates)
            self._load_constant -= (rates * offsets) @ rows
            self._springs.clear()
