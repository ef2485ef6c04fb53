"""Petals from mesh files of every kind, written here with trimesh."""

import numpy as np
import pytest
import trimesh
from PIL import Image
from scipy.ndimage import map_coordinates
from scipy.spatial.transform import Rotation

from lightsim.errors import SceneError
from lightsim.scene.build import build
from lightsim.scene.petal.mesh_file import facing_front, petal_from_file, rotation, smooth_normals, tinted
from lightsim.scene.petal.split import split_long_edges
from lightsim.scene.petal.texture import linear_from_bytes, sampled
from lightsim.scene.records import Camera, Drops, Petal, Scene

KINDS = ("ply", "obj", "stl", "glb")


def bowl(count=13, turned_over=False):
    """A square bowl, 2 units wide and 0.6 deep, with its places in a texture."""
    x, y = (grid.ravel() for grid in np.meshgrid(*[np.linspace(-1, 1, count)] * 2))
    vertices = np.column_stack([x, y, 0.3 * (x * x + y * y)])
    at = np.arange(count * count).reshape(count, count)
    a, b, c, d = (part.ravel() for part in (at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]))
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    uv = np.column_stack([(x + 1) / 2, (y + 1) / 2])
    return trimesh.Trimesh(vertices, faces[:, ::-1] if turned_over else faces, process=False), uv


def saved(mesh, folder, kind):
    path = folder / f"mesh.{kind}"
    mesh.export(path)
    return path


def petal_of(path, **keys):
    return petal_from_file(Petal(form="mesh", file=path, **({"scale": 10.0, "mesh_spacing_mm": 0.5} | keys)))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("turned_over", [False, True])
def test_every_kind_of_file_loads_facing_the_front(tmp_path, kind, turned_over):
    petal = petal_of(saved(bowl(turned_over=turned_over)[0], tmp_path, kind))
    assert len(petal.faces) == 288
    assert len(petal.vertices) == 169  # an STL file's loose corners are joined
    np.testing.assert_allclose(petal.vertices.min(axis=0), [-10, -10, -3], atol=1e-5)
    np.testing.assert_allclose(petal.vertices.max(axis=0), [10, 10, 3], atol=1e-5)
    corner = petal.vertices[petal.faces]
    assert (np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])[:, 2] > 0).all()
    middle = np.linalg.norm(petal.vertices[:, :2], axis=1).argmin()
    np.testing.assert_allclose(petal.normals[middle], [0, 0, 1], atol=1e-6)
    np.testing.assert_allclose(np.linalg.norm(petal.normals, axis=1), 1, atol=1e-9)


@pytest.mark.parametrize("kind", ["ply", "obj", "glb"])
def test_vertex_colours_become_linear_reflectance(tmp_path, kind):
    mesh, uv = bowl()
    codes = np.column_stack([uv * 255, np.full(len(uv), 128), np.full(len(uv), 255)]).round().astype(np.uint8)
    mesh.visual.vertex_colors = codes
    petal = petal_of(saved(mesh, tmp_path, kind))
    # IEC 61966-2-1: code 128 is 0.2158605
    np.testing.assert_allclose(petal.reflectance[:, 2], 0.2158605, atol=1e-6)
    at = np.argsort(petal.vertices[:, 0], kind="stable")
    assert (np.diff(petal.reflectance[at, 0]) >= -1e-6).all()
    assert petal.reflectance.max() == pytest.approx(0.98)
    assert (petal.reflectance + petal.transmittance).max() <= 0.98 + 1e-6


def test_face_colours_are_shared_out_to_the_vertices(tmp_path):
    mesh, _ = bowl()
    mesh.visual.face_colors = np.tile([188, 0, 0, 255], (len(mesh.faces), 1)).astype(np.uint8)
    petal = petal_of(saved(mesh, tmp_path, "ply"))
    np.testing.assert_allclose(petal.reflectance[:, 0], linear_from_bytes(np.array(188)), atol=1e-6)
    assert petal.reflectance[:, 1:].max() == 0.0


# IEC 61966-2-1: codes 0, 128, 188 and 255.
def test_codes_become_linear():
    codes = np.array([0, 128, 255], dtype=np.uint8)
    np.testing.assert_allclose(linear_from_bytes(codes), [0.0, 0.2158605, 1.0], atol=5e-8)


@pytest.mark.parametrize("kind", ["obj", "glb"])
def test_a_texture_is_sampled_at_vertices_made_fine_enough(tmp_path, kind):
    codes = np.zeros((16, 16, 3), dtype=np.uint8)
    codes[:8, :, 0] = 200  # the upper half red, the lower left quarter green
    codes[8:, :8, 1] = 200
    mesh, uv = bowl(5)
    material = trimesh.visual.material.PBRMaterial(baseColorTexture=Image.fromarray(codes))
    if kind == "obj":
        material = trimesh.visual.material.SimpleMaterial(image=Image.fromarray(codes))
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, material=material)
    petal = petal_of(saved(mesh, tmp_path, kind))
    edges = np.linalg.norm(np.diff(petal.vertices[petal.faces][:, [0, 1, 2, 0]], axis=1), axis=2)
    assert edges.max() <= 0.5
    x, y, _ = petal.vertices.T
    level = linear_from_bytes(np.array(200))
    for chosen, colour in (
        (y > 1, [level, 0, 0]),
        ((y < -1) & (x < -1) & (x > -9), [0, level, 0]),
        ((y < -1) & (y > -9) & (x > 1) & (x < 9), [0, 0, 0]),
    ):
        inside = chosen & (np.abs(x) < 9) & (np.abs(y) < 9)
        assert inside.sum() > 100
        np.testing.assert_allclose(petal.reflectance[inside], np.tile(colour, (inside.sum(), 1)), atol=1e-6)


def test_sampling_is_bilinear():
    random = np.random.default_rng(2)
    image = random.random((9, 14, 3))
    uv = random.uniform(0.1, 0.9, (200, 2))
    rows, columns = (1 - uv[:, 1]) * 9 - 0.5, uv[:, 0] * 14 - 0.5
    expected = np.stack([map_coordinates(image[..., k], [rows, columns], order=1) for k in range(3)], axis=1)
    np.testing.assert_allclose(sampled(image, uv), expected, atol=1e-12)
    np.testing.assert_allclose(sampled(image, uv + np.array([3, -2])), expected, atol=1e-9)  # it repeats


@pytest.mark.parametrize("kind", KINDS)
def test_without_colours_the_keys_give_them(tmp_path, kind):
    path = saved(bowl()[0], tmp_path, kind)
    grey = petal_of(path, reflectance=(0.2, 0.4, 0.6))
    np.testing.assert_allclose(grey.reflectance, np.tile([0.2, 0.4, 0.6], (len(grey.vertices), 1)), atol=1e-6)
    petal = petal_of(path)
    np.testing.assert_allclose(
        petal.reflectance[petal.vertices[:, 1].argmin()], Petal.reflectance_foot, atol=1e-6
    )
    np.testing.assert_allclose(
        petal.reflectance[petal.vertices[:, 1].argmax()], Petal.reflectance_tip, atol=1e-6
    )


def test_places_in_a_texture_without_one_are_no_colour(tmp_path):
    mesh, uv = bowl()
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv)
    petal = petal_of(saved(mesh, tmp_path, "ply"), reflectance=(0.3, 0.3, 0.3))
    np.testing.assert_allclose(petal.reflectance, 0.3, atol=1e-6)


def test_what_is_let_through_takes_the_hue():
    through = np.array([[0.3, 0.3, 0.3], [0.4, 0.4, 0.4], [0.2, 0.1, 0.1]])
    reflected = np.array([[0.6, 0.3, 0.0], [0.9, 0.9, 0.9], [0.0, 0.0, 0.0]])
    expected = [[0.3, 0.15, 0.0], [0.08, 0.08, 0.08], [0.2, 0.2, 0.2]]
    np.testing.assert_allclose(tinted(through, reflected), expected, atol=1e-12)


def test_several_geometries_stand_where_the_file_puts_them(tmp_path):
    scene = trimesh.Scene()
    scene.add_geometry(bowl()[0], transform=trimesh.transformations.translation_matrix([-2, 0, 0]))
    scene.add_geometry(bowl()[0], transform=trimesh.transformations.translation_matrix([2, 0, 0]))
    path = tmp_path / "two.glb"
    scene.export(path)
    petal = petal_of(path)
    assert len(petal.faces) == 2 * 288
    np.testing.assert_allclose(np.ptp(petal.vertices, axis=0), [60, 20, 6], atol=1e-4)
    assert not (np.abs(petal.vertices[:, 0]) < 9.9).any()


def test_rotation_is_about_x_then_y_then_z():
    expected = Rotation.from_euler("xyz", [20, -35, 70], degrees=True).as_matrix()
    np.testing.assert_allclose(rotation((20.0, -35.0, 70.0)), expected, atol=1e-12)


def test_a_mesh_with_y_up_is_turned_to_the_lens(tmp_path):
    mesh = bowl()[0]
    mesh.apply_transform(trimesh.transformations.rotation_matrix(-np.pi / 2, [1, 0, 0]))
    path = saved(mesh, tmp_path, "ply")
    petal = petal_of(path, rotate_deg=(90.0, 0.0, 0.0))
    np.testing.assert_allclose(np.ptp(petal.vertices, axis=0), [20, 20, 6], atol=1e-4)


def test_smooth_normals_of_a_ball_point_outward_and_join_at_seams():
    ball = trimesh.creation.icosphere(subdivisions=3)
    vertices, faces = np.asarray(ball.vertices), np.asarray(ball.faces)
    whole = smooth_normals(vertices, faces)
    np.testing.assert_allclose(whole, vertices, atol=5e-3)
    loose = vertices[faces].reshape(-1, 3)  # each face with corners of its own
    apart = smooth_normals(loose, np.arange(len(loose)).reshape(-1, 3))
    np.testing.assert_allclose(apart, whole[faces.ravel()], atol=1e-12)


def test_a_closed_mesh_looks_outward():
    ball = trimesh.creation.icosphere(subdivisions=2)
    faces = np.asarray(ball.faces, dtype=np.int32)
    np.testing.assert_array_equal(facing_front(ball.vertices, faces), faces)
    np.testing.assert_array_equal(facing_front(ball.vertices, faces[:, ::-1]), faces)


@pytest.mark.parametrize("longest", [0.05, 0.11, 0.3])
def test_splitting_keeps_the_mesh_whole(longest):
    box = trimesh.creation.box((1.0, 0.6, 0.2))
    vertices = np.asarray(box.vertices)
    carried = np.column_stack([vertices, vertices @ [1.0, 2.0, 3.0]])
    made, faces = split_long_edges(carried, np.asarray(box.faces), longest, 10**6)
    mesh = trimesh.Trimesh(made[:, :3], faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(box.volume)
    assert mesh.edges_unique_length.max() <= longest
    np.testing.assert_allclose(made[:, 3], made[:, :3] @ [1.0, 2.0, 3.0], atol=1e-12)
    assert split_long_edges(carried, np.asarray(box.faces), longest, len(faces) - 1) is None


def sentence_for(path, **keys):
    with pytest.raises(SceneError) as caught:
        petal_of(path, **keys)
    (sentence,) = caught.value.problems
    assert "\n" not in sentence
    return sentence


ALLOWED = "allowed a mesh file (PLY, OBJ, STL, GLB ...)"


def test_files_that_are_not_there_or_no_files(tmp_path):
    path = tmp_path / "no.ply"
    assert sentence_for(path) == f'petal.file: found "{path}", and no such file, {ALLOWED}'
    assert sentence_for(tmp_path) == f'petal.file: found "{tmp_path}", a folder, {ALLOWED}'


@pytest.mark.parametrize("name", ["a.ply", "a.glb", "a.gltf", "a.stl", "a.off", "a.3mf", "a.dae", "a.obj"])
def test_files_that_do_not_load(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"ply\nnot a mesh \xff at all")
    sentence = sentence_for(path)
    assert "which does not load (" in sentence or "which has no faces" in sentence
    assert sentence.endswith(ALLOWED)


def test_a_cloud_of_points_has_no_faces(tmp_path):
    path = tmp_path / "points.ply"
    trimesh.PointCloud(np.random.default_rng(1).random((20, 3))).export(path)
    assert sentence_for(path).endswith(f"which has no faces, {ALLOWED}")


def test_vertices_that_are_not_numbers(tmp_path):
    mesh = bowl()[0]
    vertices = np.array(mesh.vertices)
    vertices[5] = np.nan
    vertices[9, 1] = np.inf
    path = saved(trimesh.Trimesh(vertices, mesh.faces, process=False), tmp_path, "ply")
    assert "in which 2 vertices are not finite numbers" in sentence_for(path)


def test_faces_without_area(tmp_path):
    line = trimesh.Trimesh([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]], process=False)
    assert "whose faces have no area" in sentence_for(saved(line, tmp_path, "ply"))


def test_a_texture_that_asks_for_too_many_triangles(tmp_path):
    mesh, uv = bowl(3)
    image = Image.fromarray(np.full((4, 4, 3), 90, dtype=np.uint8))
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, image=image)
    path = saved(mesh, tmp_path, "obj")
    assert "allowed a coarser spacing" in sentence_for(path, scale=500.0, mesh_spacing_mm=0.1)


def test_the_error_names_the_scene_file_and_a_changed_file_is_read_again(tmp_path):
    path = saved(bowl()[0], tmp_path, "ply")
    petal = Petal(form="mesh", file=path, scale=10.0)
    scene = Scene(petal=petal, drops=Drops(count=3), camera=Camera(), path=tmp_path / "a.toml")
    assert len(build(scene).petal.faces) == 288
    saved(bowl(9)[0], tmp_path, "ply")
    assert len(build(scene).petal.faces) == 128
    path.unlink()
    with pytest.raises(SceneError) as caught:
        build(scene)
    assert str(caught.value).startswith(f"{tmp_path / 'a.toml'}: petal.file: found ")


def test_the_unit_of_gltf_is_the_metre(tmp_path):
    """glTF 2.0 (Khronos Group, 2017), section 3.4: all linear distances are in metres."""
    mesh = bowl()[0]
    mesh.apply_scale(0.03 / np.ptp(mesh.vertices, axis=0).max())
    found = petal_from_file(Petal(form="mesh", file=saved(mesh, tmp_path, "glb")))
    assert np.ptp(found.vertices, axis=0).max() == pytest.approx(30.0, rel=1e-5)


@pytest.mark.parametrize(
    ("size", "words"),
    [
        (0.04, "scale = 1000, a file in metres, would make it 40 mm"),
        (40_000.0, "scale = 0.001, a file in micrometres, would make it 40 mm"),
        (1e-7, "would make it 40 mm"),
    ],
)
def test_a_mesh_of_an_unlikely_size_is_told_the_scale_that_would_help(tmp_path, size, words):
    mesh = bowl()[0]
    mesh.apply_scale(size / np.ptp(mesh.vertices, axis=0).max())
    sentence = sentence_for(saved(mesh, tmp_path, "ply"), scale=None)
    assert sentence.startswith("petal.scale: found 1, which makes ")
    assert words in sentence
    assert f"{size:.3g}" in sentence
