"""Placing drops: apart, on the petal, spread by area, and the earlier ones kept when there are more."""

import itertools
from math import cos, log, radians, sin

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import dblquad
from scipy.spatial import cKDTree

from lightsim.errors import SceneError
from lightsim.scene.drops import Crowd, Standing, place_drops
from lightsim.scene.petal.shape import petal_sheet
from lightsim.scene.petal.surface import Surface, edge_of_front
from lightsim.scene.records import Drops, Petal, PlacedDrop

SMOOTH = {"veins": 0, "relief_mm": 0.0}


@pytest.fixture(scope="module")
def flat():
    return Surface(petal_sheet(Petal(form="flat", mesh_spacing_mm=0.3, **SMOOTH)))


@pytest.fixture(scope="module")
def curved():
    return Surface(petal_sheet(Petal(form="ruffled", curl=0.4, mesh_spacing_mm=0.2)))


def same(few, many):
    for name in ("centre", "radius", "foot", "normal", "contact_angle_deg"):
        np.testing.assert_array_equal(getattr(few, name), getattr(many, name)[: len(few)])


def check_apart(drops, gap_mm):
    """No two spheres and no two contact discs nearer than the gap, from all pairs."""
    disc = drops.radius * np.sin(np.radians(drops.contact_angle_deg))
    pairs = cKDTree(drops.centre).query_pairs(3 * drops.radius.max() + gap_mm, output_type="ndarray")
    i, j = pairs.T
    spheres = np.linalg.norm(drops.centre[i] - drops.centre[j], axis=1) - drops.radius[i] - drops.radius[j]
    discs = np.linalg.norm(drops.foot[i] - drops.foot[j], axis=1) - disc[i] - disc[j]
    assert len(pairs) > 10
    assert spheres.min() >= gap_mm - 1e-12
    assert discs.min() >= gap_mm - 1e-12


@pytest.mark.parametrize("angle", [60.0, 90.0, 110.0, 150.0])
def test_drops_keep_apart(curved, angle):
    placed = place_drops(Drops(count=400, diameter_mm=0.8, contact_angle_deg=angle, gap_mm=0.05), curved)
    assert len(placed) > 200
    check_apart(placed, 0.05)


# Geometry of a sphere cut by a plane: the centre stands -R cos(angle) above it, the disc has radius
# R sin(angle), the height is R (1 - cos(angle)); 1 microlitre at 110 degrees has R 0.6838, disc 0.6426,
# height 0.9177 mm, from V = pi R^3 (2 - 3 cos + cos^3) / 3.
def test_a_drop_is_a_sphere_cut_by_the_petal(flat):
    volume = np.pi * 0.6838**3 * (2 - 3 * cos(radians(110)) + cos(radians(110)) ** 3) / 3
    assert volume == pytest.approx(1.0, rel=3e-4)
    drops = Drops(count=0, placed=(PlacedDrop(1.0, 2.0, 2 * 0.6838),), contact_angle_deg=110.0)
    placed = place_drops(drops, flat)
    np.testing.assert_allclose(placed.foot, [[1.0, 2.0, 0.0]], atol=1e-12)
    assert placed.centre[0, 2] + placed.radius[0] == pytest.approx(0.9177, abs=1e-4)
    disc = np.sqrt(placed.radius[0] ** 2 - placed.centre[0, 2] ** 2)
    assert disc == pytest.approx(0.6426, abs=1e-4)


def test_the_centre_follows_from_foot_and_normal(curved):
    placed = place_drops(Drops(count=200), curved)
    rise = -placed.radius * np.cos(np.radians(placed.contact_angle_deg))
    np.testing.assert_allclose(placed.centre, placed.foot + rise[:, None] * placed.normal, atol=1e-12)
    np.testing.assert_allclose(np.linalg.norm(placed.normal, axis=1), 1.0, atol=1e-12)


def test_feet_lie_on_the_mesh(curved):
    import trimesh

    placed = place_drops(Drops(count=100), curved)
    mesh = trimesh.Trimesh(curved.mesh.vertices, curved.mesh.faces, process=False)
    corner = mesh.triangles
    for foot in placed.foot[:30]:
        near = np.argsort(np.linalg.norm(corner.mean(axis=1) - foot, axis=1))[:40]
        closest = trimesh.triangles.closest_point(corner[near], np.tile(foot, (len(near), 1)))
        assert np.linalg.norm(closest - foot, axis=1).min() < 1e-9


def test_relief_does_not_tilt_a_drop_wildly(curved):
    rough = Surface(
        petal_sheet(Petal(form="flat", mesh_spacing_mm=0.08, relief_mm=0.06, width_mm=20, length_mm=20))
    )
    placed = place_drops(Drops(count=150, diameter_mm=1.0, diameter_spread=1.0), rough)
    lean = np.degrees(np.arccos(placed.normal[:, 2]))
    raw = np.degrees(np.arccos(rough.mesh.normals[:, 2]))
    assert lean.mean() < 0.45 * raw.mean()
    assert lean.max() < 8.0


def test_contact_discs_lie_wholly_on_the_petal(flat):
    placed = place_drops(Drops(count=700, diameter_mm=0.9), flat)
    disc = placed.radius * np.sin(np.radians(placed.contact_angle_deg))
    ends = flat.mesh.vertices[edge_of_front(flat.mesh, flat.front, seams=False)][:, :, :2]
    along = ends[:, 1] - ends[:, 0]
    gap = placed.foot[:, None, :2] - ends[None, :, 0]
    share = np.clip(np.einsum("ijk,jk->ij", gap, along) / (along**2).sum(axis=1), 0, 1)
    distance = np.linalg.norm(gap - share[..., None] * along, axis=2).min(axis=1)
    assert (distance >= disc).all()
    assert (distance - disc).min() < 0.3  # drops do come near the edge


@pytest.mark.parametrize("few", [1, 37, 1023, 1025])
def test_adding_drops_keeps_the_earlier_ones(curved, few):
    drops = Drops(count=few, diameter_mm=0.35, seed=5)
    more = Drops(count=2500, diameter_mm=0.35, seed=5)
    same(place_drops(drops, curved), place_drops(more, curved))


def test_the_same_seed_gives_the_same_drops_and_another_gives_others(curved):
    one, again = (place_drops(Drops(seed=9), curved) for _ in range(2))
    same(one, again)
    assert len(one) == len(again)
    other = place_drops(Drops(seed=10), curved)
    assert not np.isclose(one.foot[:5], other.foot[:5]).any()


def test_thousands_of_drops(curved):
    placed = place_drops(Drops(count=5000, diameter_mm=0.2), curved)
    assert placed.wanted == 5000
    assert len(placed) > 4900
    check_apart(placed, 0.02)


def test_drops_are_spread_evenly_over_a_flat_petal(flat):
    rectangle = Petal(
        form="flat", outline="rectangle", width_mm=30, length_mm=40, mesh_spacing_mm=0.5, **SMOOTH
    )
    placed = place_drops(Drops(count=6000, diameter_mm=0.03, gap_mm=0.0), Surface(petal_sheet(rectangle)))
    counts, _, _ = np.histogram2d(*placed.foot[:, :2].T, bins=(6, 8), range=((-15, 15), (-20, 20)))
    assert stats.chisquare(counts.ravel()).pvalue > 0.001


def test_drops_are_spread_by_area_over_a_steep_petal():
    # a saddle as steep as a roof: area per cell from scipy's integration
    petal = Petal(
        form="saddle",
        outline="rectangle",
        curl=1.0,
        width_mm=30,
        length_mm=30,
        mesh_spacing_mm=0.25,
        **SMOOTH,
    )
    placed = place_drops(Drops(count=6000, diameter_mm=0.03, gap_mm=0.0), Surface(petal_sheet(petal)))
    edges = np.linspace(-15, 15, 6)
    counts, _, _ = np.histogram2d(*placed.foot[:, :2].T, bins=(edges, edges))

    def stretch(y, x):
        return np.sqrt(1 + (2 * x / 15) ** 2 + (2 * y / 15) ** 2)

    cells = np.array(
        [[dblquad(stretch, a, b, c, d)[0] for c, d in itertools.pairwise(edges)]
         for a, b in itertools.pairwise(edges)]
    )  # fmt: skip
    expected = cells / cells.sum() * counts.sum()
    assert cells.max() / cells.min() > 1.8
    assert stats.chisquare(counts.ravel(), expected.ravel()).pvalue > 0.001


def test_diameters_are_log_normal(flat):
    placed = place_drops(Drops(count=4000, diameter_mm=0.05, diameter_spread=1.5, gap_mm=0.0), flat)
    score = np.log(2 * placed.radius / 0.05) / log(1.5)
    assert stats.kstest(score, "norm").pvalue > 0.001
    alike = place_drops(Drops(count=50, diameter_mm=0.5, diameter_spread=1.0), flat)
    np.testing.assert_allclose(alike.radius, 0.25)


def test_a_full_petal_says_how_many_found_a_place(flat):
    placed = place_drops(Drops(count=3000, diameter_mm=3.0, diameter_spread=1.0), flat)
    assert placed.wanted == 3000
    # discs of radius 1.5 on 896 mm2: the densest packing covers 0.9069, random ones about half
    assert 50 < len(placed) < 0.9069 * 896 / (np.pi * 1.5**2)
    check_apart(placed, 0.02)


def test_no_drop_that_fits_is_an_error():
    tiny = Surface(petal_sheet(Petal(width_mm=2.0, length_mm=2.0, form="flat", **SMOOTH)))
    with pytest.raises(SceneError) as caught:
        place_drops(Drops(count=5, diameter_mm=6.0, diameter_spread=1.0), tiny)
    assert caught.value.problems == [
        "drops.diameter_mm: found 6, but none of 5 such drops fits on the petal, allowed drops small enough "
        "to stand wholly on it"
    ]
    assert len(place_drops(Drops(count=0), tiny)) == 0


def test_drops_put_by_hand_come_first_and_the_others_keep_clear(flat):
    hand = (PlacedDrop(0.0, 0.0, 2.0), PlacedDrop(3.0, 1.0, 1.0, contact_angle_deg=90.0))
    placed = place_drops(Drops(count=300, placed=hand), flat)
    np.testing.assert_allclose(placed.foot[:2, :2], [[0.0, 0.0], [3.0, 1.0]], atol=1e-12)
    np.testing.assert_allclose(placed.radius[:2], [1.0, 0.5])
    np.testing.assert_allclose(placed.contact_angle_deg[:3], [110.0, 90.0, 110.0])
    assert placed.wanted == 302
    check_apart(placed, 0.02)


def test_a_drop_put_by_hand_is_found_along_the_petals_own_normal_direction(curved):
    placed = place_drops(Drops(count=0, placed=(PlacedDrop(6.0, 9.0, 0.5),)), curved)
    np.testing.assert_allclose(placed.foot[0, :2], [6.0, 9.0], atol=1e-12)
    near = np.linalg.norm(curved.mesh.vertices[:, :2] - [6.0, 9.0], axis=1).argmin()
    assert placed.foot[0, 2] == pytest.approx(curved.mesh.vertices[near, 2], abs=0.1)


@pytest.mark.parametrize(
    ("hand", "sentence"),
    [
        (
            (PlacedDrop(99.0, 0.0, 1.0),),
            "drops.placed[0]: found x_mm 99, y_mm 0, which is off the petal, allowed any place on it "
            "(it reaches from x -15 to 15 mm and from y -20 to 20 mm)",
        ),
        (
            (PlacedDrop(0.0, -19.9, 1.0),),
            "drops.placed[0]: found x_mm 0, y_mm -19.9, where a drop of 1 mm hangs over the petal's edge, "
            "allowed any place at least 0.47 mm (the radius it stands on) inside the edge",
        ),
        (
            (PlacedDrop(0.0, 0.0, 1.0), PlacedDrop(0.5, 0.0, 1.0)),
            "drops.placed[1]: found x_mm 0.5, y_mm 0, where it is nearer than 0.02 mm to drops.placed[0], "
            "allowed drops that keep gap_mm between them",
        ),
    ],
)
def test_drops_put_by_hand_where_they_cannot_be(flat, hand, sentence):
    with pytest.raises(SceneError) as caught:
        place_drops(Drops(count=0, placed=hand), flat)
    assert caught.value.problems == [sentence]


def test_a_crowd_finds_whatever_is_in_the_way():
    random = np.random.default_rng(8)
    crowd, standing = Crowd(cell_mm=0.7, gap_mm=0.1), []
    for _ in range(600):
        radius = float(np.exp(random.normal(-1.5, 0.7)))
        x, y, z = random.uniform(-3, 3, 3).tolist()
        foot = (x, y, z - 0.5 * radius)
        drop = Standing((x, y, z), radius, foot, 0.8 * radius, (0.0, 0.0, 1.0), 110.0)
        blocked = any(
            np.linalg.norm(np.subtract(drop.centre, other.centre)) < radius + other.radius_mm + 0.1
            or np.linalg.norm(np.subtract(foot, other.foot)) < 0.8 * (radius + other.radius_mm) + 0.1
            for other in standing
        )
        assert (crowd.in_the_way_of(drop) is not None) == blocked
        if not blocked:
            crowd.add(drop)
            standing.append(drop)
    assert len(crowd) == len(standing) > 50


def test_below_finds_the_foremost_of_several_layers():
    import trimesh

    from lightsim.scene.petal.mesh_file import facing_front
    from lightsim.scene.stage import PetalMesh

    ball = trimesh.creation.icosphere(subdivisions=3, radius=2.0)
    faces = facing_front(ball.vertices, np.asarray(ball.faces, dtype=np.int32))
    grey = np.full((len(ball.vertices), 3), 0.5, np.float32)
    surface = Surface(PetalMesh(np.asarray(ball.vertices), faces, ball.vertices / 2.0, grey, grey))
    place, outside = surface.below(np.array([[0.3, -0.4], [2.5, 0.0]]))
    assert place.point[2] == pytest.approx(np.sqrt(4 - 0.25), rel=5e-3)
    assert outside is None
    drops = place_drops(Drops(count=300, diameter_mm=0.2), surface)
    assert (drops.foot[:, 2] > 0).all()  # none hangs below
    assert sin(radians(110)) * drops.radius.max() > 0
