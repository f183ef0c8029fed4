"""A compact flat-shell finite element for rectangular plates that meet at any angle.

Bending: discrete Kirchhoff quadrilateral (J.-L. Batoz and M. Ben Tahar, Int. J. Numer. Meth. Eng. 18, 1982).
Membrane: bilinear with incompatible bending modes (R. L. Taylor, P. J. Beresford and E. L. Wilson, Int. J.
Numer. Meth. Eng. 10, 1976). Drilling rotations are tied weakly to the membrane's rotation (T. J. R. Hughes
and F. Brezzi, Comput. Meth. Appl. Mech. Eng. 72, 1989). Every node has three displacements and three
rotations about global axes, right-handed. Steel unless said otherwise. SI units.
"""

from functools import cache

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

YOUNG, POISSON = 2.1e11, 0.3
GAUSS = (-1 / np.sqrt(3.0), 1 / np.sqrt(3.0))
CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)
PLANE_STRESS = (
    YOUNG / (1 - POISSON**2) * np.array([[1, POISSON, 0], [POISSON, 1, 0], [0, 0, (1 - POISSON) / 2]])
)
DRILLING = 1e-3
"""Stiffness of the drilling tie over the shear stiffness."""


def membrane(a, b, thickness):
    """Stiffness of an a by b rectangle on (u, v, rotation about its normal) of four nodes; shape (12, 12)."""
    k, tie = np.zeros((12, 12)), np.zeros((12, 12))
    x, y = CORNERS.T
    for xi in GAUSS:
        for eta in GAUSS:
            dx, dy = x * (1 + y * eta) / (2 * a), y * (1 + x * xi) / (2 * b)
            B = np.zeros((3, 12))
            B[0, 0:8:2], B[1, 1:8:2], B[2, 0:8:2], B[2, 1:8:2] = dx, dy, dy, dx
            # Incompatible modes 1 - xi^2 and 1 - eta^2 for u, then for v.
            B[0, 8], B[2, 9], B[2, 10], B[1, 11] = -4 * xi / a, -4 * eta / b, -4 * xi / a, -4 * eta / b
            k += B.T @ PLANE_STRESS @ B * thickness * a * b / 4
            spin = np.zeros(12)
            spin[0::3], spin[1::3], spin[2::3] = dy / 2, -dx / 2, (1 + x * xi) * (1 + y * eta) / 4
            tie += np.outer(spin, spin) * DRILLING * PLANE_STRESS[2, 2] * thickness * a * b / 4
    k = k[:8, :8] - k[:8, 8:] @ np.linalg.solve(k[8:, 8:], k[8:, :8])
    place = [0, 1, 3, 4, 6, 7, 9, 10]
    tie[np.ix_(place, place)] += k
    return tie


def plate(a, b, thickness):
    """Stiffness of an a by b rectangle on (w, rotation about x, rotation about y) of four nodes; shape (12, 12)."""
    corner = CORNERS * [a / 2, b / 2]
    # Section rotations u = z beta: at the corners beta_x = theta_y and beta_y = -theta_x; at the middle of
    # a side the normal part is the mean and the tangential part that of the cubic deflection along the side.
    beta = np.zeros((2, 8, 12))
    for i in range(4):
        beta[0, i, 3 * i + 2], beta[1, i, 3 * i + 1] = 1, -1
    for i in range(4):
        j = (i + 1) % 4
        length = np.hypot(*(corner[j] - corner[i]))
        t = (corner[j] - corner[i]) / length
        n = np.array([-t[1], t[0]])
        mean = (beta[:, i] + beta[:, j]) / 2
        tangential = -0.5 * (t @ mean)
        tangential[3 * j] -= 1.5 / length
        tangential[3 * i] += 1.5 / length
        beta[:, 4 + i] = np.outer(t, tangential) + np.outer(n, n @ mean)
    k = np.zeros((12, 12))
    x, y = CORNERS.T
    for xi in GAUSS:
        for eta in GAUSS:
            dxi, deta = np.zeros(8), np.zeros(8)
            dxi[:4] = x * (1 + y * eta) * (2 * x * xi + y * eta) / 4
            deta[:4] = y * (1 + x * xi) * (x * xi + 2 * y * eta) / 4
            dxi[4:] = -xi * (1 - eta), (1 - eta**2) / 2, -xi * (1 + eta), -(1 - eta**2) / 2
            deta[4:] = -(1 - xi**2) / 2, -eta * (1 + xi), (1 - xi**2) / 2, -eta * (1 - xi)
            dx, dy = dxi * 2 / a, deta * 2 / b
            B = np.array([dx @ beta[0], dy @ beta[1], dy @ beta[0] + dx @ beta[1]])
            k += B.T @ PLANE_STRESS @ B * thickness**3 / 12 * a * b / 4
    return k


@cache
def shell(a, b, thickness):
    """Stiffness of a rectangle on three displacements and three rotations of four nodes; shape (24, 24)."""
    k = np.zeros((24, 24))
    node = 6 * np.arange(4)[:, None]
    in_plane, across = (node + np.array([[0, 1, 5], [2, 3, 4]])[:, None]).reshape(2, 12)
    k[np.ix_(in_plane, in_plane)] = membrane(a, b, thickness)
    k[np.ix_(across, across)] = plate(a, b, thickness)
    return k


class Mesh:
    """Rectangles welded wherever their nodes coincide."""

    def __init__(self):
        self.nodes = {}
        self.elements = []

    def node(self, point):
        """Number of the node at a point, made if need be."""
        return self.nodes.setdefault(
            tuple(np.round(np.asarray(point) * 1e6).astype(int).tolist()), len(self.nodes)
        )

    def rectangle(self, along, across, steps_along, steps_across, thickness, origin=(0, 0, 0)):
        """Add a plate: unit vectors of its sides, coordinates of its grid lines along them."""
        along, across, origin = (np.asarray(v, dtype=float) for v in (along, across, origin))
        number = [[self.node(origin + p * along + q * across) for q in steps_across] for p in steps_along]
        turn = np.kron(np.eye(8), np.array([along, across, np.cross(along, across)]))
        for i in range(len(steps_along) - 1):
            for j in range(len(steps_across) - 1):
                a, b = steps_along[i + 1] - steps_along[i], steps_across[j + 1] - steps_across[j]
                corners = [number[i][j], number[i + 1][j], number[i + 1][j + 1], number[i][j + 1]]
                self.elements.append((corners, (round(a, 9), round(b, 9), thickness), turn))

    def points(self):
        """Coordinates of all nodes; shape (n_nodes, 3) [m]."""
        return np.array(list(self.nodes)) * 1e-6

    def stiffness(self):
        """Sparse stiffness of all nodes' six degrees of freedom."""
        turned = {}
        blocks, places = [], []
        for corners, size, turn in self.elements:
            key = (size, turn.tobytes())
            if key not in turned:
                turned[key] = turn.T @ shell(*size) @ turn
            blocks.append(turned[key])
            places.append((6 * np.array(corners)[:, None] + np.arange(6)).ravel())
        place, n = np.array(places), 6 * len(self.nodes)
        rows, columns = np.repeat(place, 24, axis=1).ravel(), np.tile(place, (1, 24)).ravel()
        return sp.coo_matrix((np.array(blocks).ravel(), (rows, columns)), shape=(n, n)).tocsc()

    def solve(self, fixed, load):
        """Displacements under a load with some degrees of freedom fixed; shape (n_nodes, 6)."""
        free = np.setdiff1d(np.arange(6 * len(self.nodes)), fixed)
        solution = np.zeros(6 * len(self.nodes))
        matrix = self.stiffness()[free][:, free]
        solution[free] = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                              options={"SymmetricMode": True}).solve(load[free])  # fmt: skip
        return solution.reshape(-1, 6)
