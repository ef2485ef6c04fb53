"""Veins, skin and colours of the petals built here."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightsim.scene.petal.shape import form_height, petal_sheet
from lightsim.scene.petal.veins import vein_relief
from lightsim.scene.petal.wrinkles import flecks, skin_relief
from lightsim.scene.records import Petal

FINE = Petal(mesh_spacing_mm=0.1, relief_mm=0.05, curl=0.3)


def places(count=4000):
    random = np.random.default_rng(5)
    return np.column_stack([random.uniform(-9, 9, count), random.uniform(-15, 15, count)])


@pytest.mark.parametrize("relief", [vein_relief, skin_relief])
def test_slopes_are_the_differences_of_heights(relief):
    xy, h = places(), 1e-4
    found = relief(FINE, xy)
    for axis, step in enumerate(h * np.eye(2)):
        rise = (relief(FINE, xy + step).height - relief(FINE, xy - step).height) / (2 * h)
        error = np.abs(rise - found.slope[:, axis])
        # the nearest vein changes between two veins, where the ridge has almost died away
        assert np.quantile(error, 0.98) < 0.02 * np.abs(found.slope).max()
        assert np.median(error) < 1e-3 * np.abs(found.slope).max()


def test_normals_are_those_of_the_displaced_mesh():
    petal = petal_sheet(Petal(form="ruffled", curl=0.4, mesh_spacing_mm=0.06, width_mm=12, length_mm=15))
    corner = petal.vertices[petal.faces]
    flat = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    flat /= np.linalg.norm(flat, axis=1, keepdims=True)
    smooth = petal.normals[petal.faces].mean(axis=1)
    smooth /= np.linalg.norm(smooth, axis=1, keepdims=True)
    angle = np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", flat, smooth), -1, 1)))
    assert np.median(angle) < 1.0
    assert np.quantile(angle, 0.99) < 6.0


def test_relief_has_the_height_it_is_given():
    xy = places()
    veins, skin = vein_relief(FINE, xy), skin_relief(FINE, xy)
    assert veins.height.min() >= 0.0
    assert 0.8 < veins.height.max() <= 1.0 + 1e-9
    assert 0.1 < skin.height.std() < 0.5
    petal = petal_sheet(FINE)
    smooth, _ = form_height(FINE, petal.vertices[:, :2])
    lift = petal.vertices[:, 2] - smooth
    assert np.abs(lift).max() < 2.5 * FINE.relief_mm


def test_no_relief_leaves_the_smooth_form():
    petal = Petal(mesh_spacing_mm=0.5, relief_mm=0.0, curl=0.3)
    mesh = petal_sheet(petal)
    z, _ = form_height(petal, mesh.vertices[:, :2])
    np.testing.assert_array_equal(mesh.vertices[:, 2], z)


def test_colours_go_from_foot_to_tip_and_veins_darken_them():
    plain = petal_sheet(Petal(mesh_spacing_mm=0.1, veins=0))
    y = plain.vertices[:, 1]
    np.testing.assert_allclose(plain.reflectance[y.argmin()], Petal.reflectance_foot, atol=1e-6)
    np.testing.assert_allclose(plain.reflectance[y.argmax()], Petal.reflectance_tip, atol=1e-6)
    veined = petal_sheet(Petal(mesh_spacing_mm=0.1, vein_strength=0.5))
    share = veined.reflectance / plain.reflectance
    assert share.max() <= 1.0 + 1e-6
    assert 0.3 < share.min() < 0.6
    assert (veined.transmittance <= plain.transmittance + 1e-6).all()


def test_a_white_petal_without_veins_and_flecks_stays_exactly_white():
    white = (1.0, 1.0, 1.0)
    petal = Petal(veins=0, mottle=0.0, mesh_spacing_mm=1.0, reflectance_foot=white, reflectance_tip=white,
                  transmittance_foot=(0, 0, 0), transmittance_tip=(0, 0, 0))  # fmt: skip
    assert (petal_sheet(petal).reflectance == 1.0).all()


def test_flecks_lie_between_none_and_whole_and_follow_the_pattern():
    xy = places()
    one, other = flecks(FINE, xy), flecks(Petal(mesh_spacing_mm=0.1, pattern=2), xy)
    assert one.min() >= 0.0
    assert one.max() <= 1.0
    assert 0.1 < one.std() < 0.5
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.3


def test_a_mesh_too_coarse_for_the_skin_leaves_it_out():
    coarse = skin_relief(Petal(mesh_spacing_mm=2.0), places())
    assert np.abs(coarse.height).max() == 0.0


@given(
    st.sampled_from(["flat", "cupped", "ruffled", "saddle"]),
    st.floats(-1, 1),
    st.integers(0, 20),
    st.floats(0, 1),
    st.floats(0, 0.5),
    st.sampled_from(["petal", "rectangle"]),
)
@settings(max_examples=25, deadline=None)
def test_any_petal_is_sound(form, curl, veins, mottle, relief, outline):
    petal = Petal(form=form, curl=curl, veins=veins, mottle=mottle, relief_mm=relief, outline=outline,
                  mesh_spacing_mm=0.8, vein_strength=1.0)  # fmt: skip
    mesh = petal_sheet(petal)
    assert np.isfinite(mesh.vertices).all()
    np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1.0, atol=1e-12)
    assert (mesh.normals[:, 2] > 0).all()
    total = mesh.reflectance + mesh.transmittance
    assert mesh.reflectance.min() >= 0.0
    assert mesh.transmittance.min() >= 0.0
    assert total.max() <= 1.0 + 1e-6
