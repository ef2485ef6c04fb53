"""What looks at every vertex, triangle and drop, against plain loops and libraries that take their time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.spatial import cKDTree

from lightsim.scene.build import build
from lightsim.scene.records import Drops
from lightsim.scene.stage import DropSet, PetalMesh
from lightsim.tracer import View, indirect_light, path_blocks, vertex_groups
from lightsim.tracer.kernels import box_tree, drop_radiosity, near_drops
from lightsim.tracer.pack import pack_drops, pack_petal
from tests.tracer.naive import corners_and_edges
from tests.tracer.sets import lamp, plain_petal, simple


@pytest.fixture(scope="module")
def mesh() -> PetalMesh:
    """A petal that is curved and uneven."""
    flat = build(simple(plain_petal(0.5))).petal
    rng = np.random.default_rng(3)
    bumps = rng.normal(0.0, 0.02, flat.vertices.shape)
    colour = rng.uniform(0.1, 0.6, flat.vertices.shape).astype(np.float32)
    return replace(flat, vertices=flat.vertices + bumps, reflectance=colour)


# --- trees ---


@pytest.mark.parametrize("many", [0, 1, 5, 32, 33, 700, 50_000])
def test_every_item_is_in_one_leaf_and_in_all_boxes_above_it(many):
    rng = np.random.default_rng(many)
    low = rng.uniform(-20.0, 20.0, (many, 3)) * (1.0, 1.0, 0.05)
    items = np.hstack([low, low + rng.uniform(0.0, 0.5, (many, 3))]).astype(np.float32)
    tree = box_tree.build_tree(items)
    assert sorted(tree.order) == list(range(many))
    child, leaf = tree.link[..., 1] == 0, tree.link[..., 1] > 0
    held = [np.arange(first, first + n) for first, n in tree.link[leaf]]
    assert sorted(np.concatenate([*held, []])) == list(range(many))
    assert tree.link[..., 1].max() <= box_tree.LEAF
    assert sorted(tree.link[child][:, 0]) == list(range(1, len(tree.link)))
    boxes = tree.box.transpose(0, 2, 1)
    for (low_end, high_end), below in zip(boxes[leaf].reshape(-1, 2, 3), held, strict=True):
        assert (items[tree.order[below], :3] >= low_end).all()
        assert (items[tree.order[below], 3:] <= high_end).all()
    for node, of in zip(tree.link[child][:, 0], boxes[child], strict=True):
        inside = boxes[node][tree.link[node][:, 1] >= 0]
        assert (inside[:, :3] >= of[:3] - 1e-4).all()
        assert (inside[:, 3:] <= of[3:] + 1e-4).all()


def test_coinciding_items_have_a_tree_too():
    tree = box_tree.build_tree(np.ones((100, 6), dtype=np.float32))
    assert sorted(tree.order) == list(range(100))
    assert tree.link[..., 1].clip(0).sum() == 100
    assert_allclose(tree.box.transpose(0, 2, 1)[tree.link[..., 1] >= 0], 1.0, atol=1e-4)


def test_all_triangles_are_kept_and_their_leaves_filled_up_with_nothing(mesh):
    petal = pack_petal(mesh)
    corner, edge1, edge2 = corners_and_edges(petal)
    area = np.linalg.norm(np.cross(edge1, edge2), axis=1) > 0.0
    assert area.sum() == len(mesh.faces)
    assert sorted(map(tuple, petal.face[area])) == sorted(map(tuple, mesh.faces))
    a, b, c = (mesh.vertices[petal.face[area, k]] for k in range(3))
    assert_allclose(corner[area], a, atol=1e-6)
    assert_allclose(edge1[area], b - a, atol=1e-6)
    assert_allclose(edge2[area], c - a, atol=1e-6)


# --- vertices in groups ---


def test_groups_of_vertices_are_those_of_a_sort(mesh):
    found = vertex_groups.group(mesh, 100)
    corner = mesh.vertices[mesh.faces]
    area = 0.5 * np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
    assert found.spacing == pytest.approx(np.sqrt(area.sum() / 100))
    cell = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / found.spacing)
    _, of_vertex, count = np.unique(cell, axis=0, return_inverse=True, return_counts=True)
    assert (found.of_vertex == of_vertex.ravel()).all()
    for group in range(len(count)):
        inside = found.of_vertex == group
        place = mesh.vertices[inside].mean(axis=0)
        assert_allclose(found.place[group], place)
        assert_allclose(found.normal[group], mesh.normals[inside].mean(axis=0))
        assert_allclose(found.reflectance[group], mesh.reflectance[inside].mean(axis=0, dtype=float))
        off = np.linalg.norm(mesh.vertices - place, axis=1)
        off[~inside] = np.inf
        assert found.nearest[group] == np.argmin(off)
        assert np.abs(mesh.vertices[inside] - found.centre[group]).max() <= 0.5001 * found.spacing
    of_group = vertex_groups.areas(mesh, found.of_vertex, len(count))
    want = np.bincount(of_vertex.ravel()[mesh.faces].ravel(), np.repeat(area / 3.0, 3))
    assert_allclose(of_group, want)


@pytest.mark.parametrize("many", [8, 1000])
def test_points_that_share_in_a_vertex_are_the_nearest(mesh, many):
    found = vertex_groups.group(mesh, 60)
    points = mesh.vertices[found.nearest]
    width = 0.7 * found.spacing
    neighbour, weight = vertex_groups.neighbours(mesh.vertices, found, points, many, width)
    many = min(many, len(points))
    far, _ = cKDTree(points).query(mesh.vertices, k=many)
    assert neighbour.shape == (len(mesh.vertices), many)
    assert_allclose(np.linalg.norm(points[neighbour] - mesh.vertices[:, None], axis=2), far, atol=1e-9)
    want = np.exp(-(far**2) / width**2 + far[:, :1] ** 2 / width**2)
    assert_allclose(weight, want / want.sum(axis=1, keepdims=True), rtol=1e-5, atol=1e-12)


# --- drops ---


@pytest.mark.parametrize("count", [0, 3, 150])
def test_near_drops_are_those_that_a_look_at_all_finds(count):
    scene = simple(plain_petal(0.5), Drops(count=count, diameter_mm=0.5, seed=3), field_mm=8.0)
    view = View(scene, width_px=90, samples=2)
    drops = view.packed.drops
    for block in view._blocks:
        rows, columns = block.near_start.shape[:2]
        for i in range(rows):
            for j in range(columns):
                first, last = block.near_start[i, j]
                place, reach = _ball(block.paths, drops, i, j)
                off = np.linalg.norm(drops.centre - place, axis=1)
                want = np.flatnonzero(off < reach + path_blocks.NEAR_RADII * drops.radius)
                assert block.near[first:last].tolist() == (want.tolist() if reach >= 0.0 else [])
    assert count < 100 or 0 < len(block.near) < rows * columns * count


def _ball(kept, drops, i, j):
    """Middle and radius of the ball round what a cell's pixels see; -1 for nothing."""
    seen = []
    for y in range(i * near_drops.CELL, min(kept.rows, (i + 1) * near_drops.CELL)):
        for x in range(j * near_drops.CELL, min(kept.width, (j + 1) * near_drops.CELL)):
            p = y * kept.width + x
            if kept.mean_end[p] >= 0:
                seen.append((*kept.mean_place[p].astype(float), float(kept.mean_reach[p])))
            elif kept.base_start[p + 1] > kept.base_start[p]:
                k = kept.base_drop[kept.base_start[p]]
                seen.append((*drops.centre[k], drops.radius[k]))
    if not seen:
        return np.zeros(3), -1.0
    place = np.array(seen)[:, :3]
    return place.mean(axis=0), (
        np.linalg.norm(place - place.mean(axis=0), axis=1) + np.array(seen)[:, 3]
    ).max()


def test_drops_without_a_tree_are_packed_too():
    none = np.zeros((0, 3))
    packed = pack_drops(DropSet(none, np.zeros(0), none, none, np.zeros(0), 0))
    assert len(packed.radius) == 0


def test_drops_pass_light_round_as_rounds_of_matrices_say():
    rng = np.random.default_rng(8)
    drops, nodes, places = 3, 9, 8
    to_base = rng.uniform(0.0, 0.08, (nodes, nodes))
    base_to_ring, to_ring = rng.uniform(0.0, 0.05, (places, nodes)), rng.uniform(0.0, 0.05, (places, places))
    rho, through = (rng.uniform(0.0, 0.6, (drops, 3)) for _ in range(2))
    outside, base = rng.uniform(0.0, 1.0, (2, drops, 3, nodes))
    ring_exitance, far = rng.uniform(0.0, 1.0, (2, drops, 3, places))
    want_base = outside.copy()
    for _ in range(drop_radiosity.ROUNDS):
        want_base = outside + (rho[..., None] * want_base + through[..., None]) @ to_base.T
    want_ring = far + (rho[..., None] * want_base + through[..., None]) @ base_to_ring.T
    want_ring += ring_exitance @ to_ring.T
    base, by_drop = outside.copy(), far.copy()
    matrices = drop_radiosity.DropMatrices(to_base, base_to_ring, to_ring, rho)
    drop_radiosity.exchange(drops, matrices, through, ring_exitance, base, by_drop)
    assert_allclose(base, want_base)
    assert_allclose(by_drop, want_ring)


def test_drops_of_a_crowd_are_as_bright_as_those_of_a_few(monkeypatch):
    crowd = Drops(count=300, diameter_mm=0.2, seed=3)
    light, means = lamp(angle_deg=60.0, clock=2.0, distance_mm=200.0), []
    for few in (1000, 0):
        monkeypatch.setattr(indirect_light, "MANY_DROPS", few)
        monkeypatch.setattr(indirect_light, "BASE_RAYS", 24 * crowd.count)
        view = View(simple(plain_petal(0.5), crowd, (light,), field_mm=4.0), width_px=100, samples=16)
        layers = view.trace().by_light.values()
        means.append([[part.mean() for part in (layer.water, layer.petal)] for layer in layers])
    assert_allclose(means[1], means[0], rtol=0.01)
