"""The flat-shell element that checks the ladder frame, checked itself on plates and on a channel cantilever."""

import numpy as np
import pytest

from tests.reference.flat_shell import POISSON, YOUNG, Mesh, shell

SHEAR = YOUNG / (2 * (1 + POISSON))


def fixed_nodes(mesh, where, dofs=range(6)):
    return np.concatenate([6 * np.flatnonzero(where(mesh.points())) + d for d in dofs])


def test_element_has_six_rigid_motions_and_no_more():
    k = shell(0.03, 0.02, 0.007)
    # Scaled to a unit diagonal, as rotations and displacements differ by orders of magnitude.
    scale = 1 / np.sqrt(np.diag(k))
    values = np.linalg.eigvalsh(k * np.outer(scale, scale))
    assert np.all(np.abs(values[:6]) < 1e-12)
    assert values[6] > 1e-5


def test_clamped_square_plate_under_central_load():
    """S. Timoshenko and S. Woinowsky-Krieger, Theory of plates and shells, 2nd ed., table 37: w = 0.00560 P a^2/D.

    With one more figure 0.005612 (recalled). Under a point load the error falls a little slower than with the
    square of the element size.
    """
    errors = []
    for n in (8, 16, 32):
        a, t = 1.0, 0.01
        mesh = Mesh()
        lines = np.linspace(0, a, n + 1)
        mesh.rectangle((1, 0, 0), (0, 1, 0), lines, lines, t)
        edge = fixed_nodes(mesh, lambda p, a=a: (np.abs(p[:, :2] - a / 2) > a / 2 - 1e-6).any(axis=1))
        load = np.zeros(6 * len(mesh.nodes))
        centre = mesh.node((a / 2, a / 2, 0))
        load[6 * centre + 2] = 1000.0
        D = YOUNG * t**3 / (12 * (1 - POISSON**2))
        errors.append(mesh.solve(edge, load)[centre, 2] * D / (1000 * a**2) / 0.005612 - 1)
    assert abs(errors[2]) < 0.005
    assert 1.6 < np.log2(errors[1] / errors[2]) < 2.2


def test_strip_bends_in_its_own_plane_like_a_beam():
    """Cantilever strip, 1 m long and 0.1 m high, two elements over the height: P L^3/(3 E I) + 1.2 P L/(G A)."""
    L, h, t = 1.0, 0.1, 0.01
    mesh = Mesh()
    mesh.rectangle((1, 0, 0), (0, 0, 1), np.linspace(0, L, 21), np.linspace(0, h, 3), t)
    load = np.zeros(6 * len(mesh.nodes))
    for z, share in ((0, 0.25), (h / 2, 0.5), (h, 0.25)):
        load[6 * mesh.node((L, 0, z)) + 2] = share * 1000
    u = mesh.solve(fixed_nodes(mesh, lambda p: p[:, 0] < 1e-6), load)
    beam = 1000 * L**3 / (3 * YOUNG * t * h**3 / 12) + 1.2 * 1000 * L / (SHEAR * t * h)
    assert u[mesh.node((L, 0, h / 2)), 2] == pytest.approx(beam, rel=0.01)


def test_channel_cantilever_in_torsion_with_its_root_held():
    """Vlasov: tip twist T L/(G J) (1 - tanh(L/a)/(L/a)), a = sqrt(E Cw/(G J)).

    Sharp-cornered channel 270 x 75 x 7 mm, 2 m long; plates clamped at the root. The shell's flanges also
    shear, which the thin-walled theory leaves out: 2 % here.
    """
    H, B, t, L, T = 0.263, 0.0715, 0.007, 2.0, 100.0
    J = (2 * B + H) * t**3 / 3
    Cw = H**2 * B**3 * t / 12 * (2 * H * t + 3 * B * t) / (H * t + 6 * B * t)
    mesh = Mesh()
    along = np.linspace(0, L, 81)
    mesh.rectangle((1, 0, 0), (0, 0, 1), along, np.linspace(-H / 2, H / 2, 9), t)
    for z in (-H / 2, H / 2):
        mesh.rectangle((1, 0, 0), (0, -1, 0), along, np.linspace(0, B, 5), t, (0, 0, z))
    load = np.zeros(6 * len(mesh.nodes))
    for z in (-H / 2, H / 2):
        load[6 * mesh.node((L, 0, z)) + 1] = -T / H * np.sign(z)
    u = mesh.solve(fixed_nodes(mesh, lambda p: p[:, 0] < 1e-6), load)
    twist = (u[mesh.node((L, 0, -H / 2)), 1] - u[mesh.node((L, 0, H / 2)), 1]) / H
    x = L / np.sqrt(YOUNG * Cw / (SHEAR * J))
    assert twist == pytest.approx(T * L / (SHEAR * J) * (1 - np.tanh(x) / x), rel=0.03)
