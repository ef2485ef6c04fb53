"""Outlines and forms: areas, slopes, meshes without cracks. Areas against scipy's integration."""

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.optimize import minimize_scalar

from lightsim.scene.petal.forms import FORMS
from lightsim.scene.petal.outline import FOOT, WIDEST, flat_mesh, narrowing, triangles_needed
from lightsim.scene.petal.shape import petal_sheet
from lightsim.scene.records import Petal

SMOOTH = {"veins": 0, "relief_mm": 0.0}


def areas(xy, faces):
    a, b, c = (xy[faces[:, k]] for k in range(3))
    return 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])


def half_width(t):
    return 2 * np.sqrt(t * (1 - t)) * (FOOT + (1 - FOOT) * t)


def test_the_outline_is_as_wide_as_it_says():
    widest = minimize_scalar(lambda t: -half_width(t), bounds=(0.3, 0.9), method="bounded")
    assert -widest.fun == pytest.approx(WIDEST, abs=1e-9)


def outline_area_mm2(outline):
    """Area of an outline of 30 x 40 mm, by quadrature."""
    if outline == "rectangle":
        return 30.0 * 40.0
    integral, _ = quad(lambda t: 2 * 15.0 * half_width(t) / WIDEST * 40.0, 0, 1)
    return integral


@pytest.mark.parametrize("outline", ["petal", "rectangle"])
def test_the_flat_mesh_fills_its_outline(outline):
    xy, faces = flat_mesh(outline, 30.0, 40.0, 0.25)
    size = areas(xy, faces)
    assert len(faces) == triangles_needed(outline, 30.0, 40.0, 0.25)
    assert size.min() > 0.05 * size.mean()
    # chords cut the smooth outline short by the square of their length
    assert size.sum() == pytest.approx(outline_area_mm2(outline), rel=2e-4)
    np.testing.assert_allclose(np.ptp(xy, axis=0), [30.0, 40.0], atol=0.01)


@pytest.mark.parametrize("outline", ["petal", "rectangle"])
def test_the_flat_mesh_is_whole_with_one_edge_all_round(outline):
    import trimesh

    xy, faces = flat_mesh(outline, 6.0, 9.0, 0.5)
    mesh = trimesh.Trimesh(np.column_stack([xy, np.zeros(len(xy))]), faces, process=False)
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 1  # a disc
    assert len(np.unique(faces)) == len(xy)


def test_the_outline_is_smooth():
    xy, _faces = flat_mesh("petal", 30.0, 40.0, 0.25)
    rim = np.hypot(xy[:, 0] / 15 / narrowing(xy[:, 1] / 20), xy[:, 1] / 20) > 1 - 1e-9
    ring = xy[rim]
    step = np.roll(ring, -1, axis=0) - ring
    turn = np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))
    assert turn.min() > 0.0
    assert turn.max() < np.radians(3.0)


@pytest.mark.parametrize("form", FORMS)
def test_slopes_are_the_differences_of_heights(form):
    random = np.random.default_rng(3)
    u, v = random.uniform(-0.9, 0.9, (2, 400))
    z, z_u, z_v = FORMS[form](u, v, 7)
    h = 1e-5
    np.testing.assert_allclose(
        (FORMS[form](u + h, v, 7)[0] - FORMS[form](u - h, v, 7)[0]) / (2 * h), z_u, atol=1e-7
    )
    np.testing.assert_allclose(
        (FORMS[form](u, v + h, 7)[0] - FORMS[form](u, v - h, 7)[0]) / (2 * h), z_v, atol=1e-7
    )
    assert np.isfinite(z).all()


def test_a_form_has_its_depth_at_the_rim():
    petal = petal_sheet(Petal(form="cupped", outline="rectangle", curl=0.4, mesh_spacing_mm=1.0, **SMOOTH))
    x, y, z = petal.vertices.T
    side = (np.abs(np.abs(x) - 15.0) < 1e-9) & (np.abs(y) < 1e-9)
    np.testing.assert_allclose(z[side], 0.4 * 15.0)
    assert z.min() == 0.0


def test_the_flat_form_without_relief_is_exactly_flat():
    petal = petal_sheet(Petal(form="flat", mesh_spacing_mm=0.5, relief_mm=0.0))
    assert (petal.vertices[:, 2] == 0.0).all()
    np.testing.assert_array_equal(petal.normals, np.tile([0.0, 0.0, 1.0], (len(petal.normals), 1)))


@pytest.mark.parametrize(("form", "sign"), [("cupped", 1.0), ("saddle", -1.0)])
def test_the_curved_area_is_the_integral(form, sign):
    petal = petal_sheet(Petal(form=form, outline="rectangle", curl=0.5, mesh_spacing_mm=0.3, **SMOOTH))
    corner = petal.vertices[petal.faces]
    area = 0.5 * np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
    depth = 0.5 * 15.0
    integral, _ = dblquad(
        lambda y, x: np.sqrt(1 + (2 * depth * x / 15**2) ** 2 + (sign * 2 * depth * y / 20**2) ** 2),
        -15, 15, -20, 20,
    )  # fmt: skip
    assert area.sum() == pytest.approx(integral, rel=1e-4)
