"""A numeric model of radial flow, built here on SciPy alone, as an independent check of the closed and transformed solutions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.sparse import csr_matrix, diags
from scipy.sparse.linalg import spsolve

from borewright import hydraulics as h

T, S, Q, RW = 1e-3, 2e-4, 2e-3, 0.1


def radial_model(times, radii, *, leakage=None, casing=None, block=None, outer=3e4, cells=420):
    """Return drawdown at times and radii by finite volumes on rings growing evenly in ln r, integrated by an implicit rule of high order.

    `leakage` B [m]; `casing` radius [m] of standing water in the bore; `block` (storativity, interflow) of a second, still continuum.
    The outer edge is closed and far.
    """
    edges = np.geomspace(RW, outer, cells + 1)
    centres = np.sqrt(edges[1:] * edges[:-1])
    area = np.pi * (edges[1:] ** 2 - edges[:-1] ** 2)
    link = 2 * np.pi * T / np.log(centres[1:] / centres[:-1])
    # The bore joins the first ring over half a ring.
    first = 2 * np.pi * T / np.log(centres[0] / RW)
    count = cells + (1 if casing is not None else 0) + (cells if block is not None else 0)
    matrix = np.zeros((count, count))
    store = np.empty(count)
    store[:cells] = S * area
    source = np.zeros(count)
    for k in range(cells - 1):
        matrix[k, k] -= link[k]
        matrix[k, k + 1] += link[k]
        matrix[k + 1, k + 1] -= link[k]
        matrix[k + 1, k] += link[k]
    if leakage is not None:
        matrix[np.arange(cells), np.arange(cells)] -= area * T / leakage**2
    if block is not None:
        storativity, interflow = block
        base = count - cells
        rows = np.arange(cells)
        matrix[rows, rows] -= area * T * interflow
        matrix[rows, base + rows] += area * T * interflow
        matrix[base + rows, base + rows] -= area * T * interflow
        matrix[base + rows, rows] += area * T * interflow
        store[base:] = storativity * area
    if casing is not None:
        matrix[0, 0] -= first
        matrix[0, cells] += first
        matrix[cells, cells] -= first
        matrix[cells, 0] += first
        store[cells] = np.pi * casing**2
        source[cells] = Q
    else:
        source[0] = Q
    rate = matrix / store[:, None]
    sparse = csr_matrix(rate)
    found = solve_ivp(lambda _, s: sparse @ s + source / store, (0, times[-1]), np.zeros(count), method="BDF", t_eval=times, jac=sparse, rtol=1e-8, atol=1e-10)
    inner = found.y[:cells]
    out = np.array([[np.interp(np.log(r), np.log(centres), inner[:, k]) for r in radii] for k in range(len(times))])
    return out, (found.y[cells] if casing is not None else None)


TIMES = np.array([300.0, 3000.0, 30000.0, 200000.0])
RADII = np.array([10.0, 40.0, 150.0])


def test_theis():
    model, _ = radial_model(TIMES, RADII)
    exact = h.drawdown(TIMES[:, None], RADII, rate=Q, transmissivity=T, storativity=S)
    np.testing.assert_allclose(model, exact, atol=2e-3 * exact.max())


def test_leaky():
    model, _ = radial_model(TIMES, RADII, leakage=120.0)
    exact = h.leaky_drawdown(TIMES[:, None], RADII, rate=Q, transmissivity=T, storativity=S, leakage_factor=120.0)
    np.testing.assert_allclose(model, exact, atol=2e-3 * exact.max())


def test_bore_storage_in_the_bore_and_beside_it():
    model, bore = radial_model(TIMES, RADII, casing=0.4)
    given = {"rate": Q, "transmissivity": T, "storativity": S, "bore_radius": RW, "casing_radius": 0.4}
    inside = h.bore_storage_drawdown(TIMES, radius=RW, **given)
    np.testing.assert_allclose(bore, inside, rtol=3e-3)
    for column, r in enumerate(RADII):
        np.testing.assert_allclose(model[:, column], h.bore_storage_drawdown(TIMES, radius=r, **given), atol=2e-3 * inside.max())


def test_double_porosity():
    model, _ = radial_model(TIMES, RADII, block=(5e-3, 1e-4))
    for column, r in enumerate(RADII):
        exact = h.double_porosity_drawdown(TIMES, radius=r, rate=Q, transmissivity=T, storativity=S, block_storativity=5e-3, interflow=1e-4)
        np.testing.assert_allclose(model[:, column], exact, atol=2e-3 * model.max())


@pytest.mark.parametrize("strength", [1, -1])
def test_straight_edge_against_a_plane_model(strength):
    """A plane of square cells with an edge closed (image +1) or held (image -1), bore a cell, read 60 m away along the edge."""
    half, step = 40, 20.0
    columns = 5 + half  # the edge lies 5 cells (100 m) left of the bore's cell wall
    rows = 2 * half + 1
    index = np.arange(rows * columns).reshape(rows, columns)
    pairs = [(index[:, :-1].ravel(), index[:, 1:].ravel()), (index[:-1].ravel(), index[1:].ravel())]
    i = np.concatenate([a for a, _ in pairs] + [b for _, b in pairs])
    j = np.concatenate([b for _, b in pairs] + [a for a, _ in pairs])
    links = csr_matrix((np.full(i.size, T), (i, j)), shape=(rows * columns,) * 2)
    loss = np.asarray(links.sum(axis=1)).ravel()
    if strength < 0:
        loss[index[:, 0]] += 2 * T
    store = S * 10 * step**2
    bore = index[half, 5]
    s = np.zeros(rows * columns)
    moments = np.geomspace(200, 60000, 160)
    last = 0.0
    for moment in moments:
        pace = moment - last
        matrix = diags(loss + store / pace) - links
        right = store / pace * s
        right[bore] += Q
        s, last = spsolve(matrix.tocsc(), right), moment
    seen = s[index[half + 3, 5]]
    response = h.with_images(lambda t, d: h.drawdown(t, d, rate=Q, transmissivity=T, storativity=10 * S), [(60.0, 1), (np.hypot(220.0, 60.0), strength)])
    assert seen == pytest.approx(float(response(np.array([60000.0]))[0]), rel=0.03)
