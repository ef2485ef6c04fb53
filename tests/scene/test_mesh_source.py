"""The door of mesh files: what is too large, no file, or outside of the folder is refused in one sentence."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import tracemalloc
import zipfile
import zlib

import numpy as np
import pytest
import trimesh
from PIL import Image
from trimesh.resolvers import FilePathResolver
from trimesh.visual import TextureVisuals

from lightsim.scene.petal import mesh_source as it
from lightsim.scene.petal.texture import averaged, linear_from_bytes
from tests.scene.test_mesh_file import bowl, petal_of, saved, sentence_for

TRIANGLE = "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\n"


def textured(folder, texture, name="a.obj"):
    """An OBJ file whose material names a texture."""
    (folder / "a.mtl").write_text(f"newmtl m\nmap_Kd {texture}\n")
    (folder / name).write_text(f"mtllib a.mtl\n{TRIANGLE}usemtl m\nf 1/1 2/2 3/3\n")
    return folder / name


def test_a_texture_in_the_folder_or_below_is_read(tmp_path):
    (tmp_path / "skin").mkdir()
    Image.new("RGB", (4, 4), (200, 10, 10)).save(tmp_path / "skin" / "red.png")
    petal = petal_of(textured(tmp_path, "skin/red.png"))
    np.testing.assert_allclose(petal.reflectance[0, 0], linear_from_bytes(np.array(200)), atol=1e-6)
    assert it.files_of_mesh(tmp_path / "a.obj")[1:] == (
        tmp_path.resolve() / "a.mtl",
        tmp_path.resolve() / "skin" / "red.png",
    )


@pytest.mark.parametrize("way", ["../secret.png", "/etc/hostname", "{}/secret.png", "link/secret.png"])
def test_nothing_is_read_from_outside_of_the_folder(tmp_path, way):
    inner = tmp_path / "inner"
    inner.mkdir()
    Image.new("RGB", (4, 4), (200, 10, 10)).save(tmp_path / "secret.png")
    (inner / "link").symlink_to(tmp_path)
    way = way.format(tmp_path)
    told = sentence_for(textured(inner, way))
    assert f'whose "{way}" lies outside of its folder' in told
    assert told.endswith("beside it, or petal.reflectance to go without")
    grey = petal_of(inner / "a.obj", reflectance=(0.3, 0.3, 0.3))
    np.testing.assert_allclose(grey.reflectance, 0.3, atol=1e-6)
    assert it.files_of_mesh(inner / "a.obj")[1:] == (inner.resolve() / "a.mtl",)


def test_the_library_s_own_resolver_does_not_leave_the_folder_either(tmp_path):
    (tmp_path / "secret").write_text("x")
    (tmp_path / "inner").mkdir()
    with pytest.raises(ValueError, match="escapes"):
        FilePathResolver(str(tmp_path / "inner" / "a.obj")).get("../secret")


def test_a_texture_that_is_missing_or_no_picture_is_said(tmp_path):
    path = textured(tmp_path, "no.png")
    assert 'whose "no.png" is missing' in sentence_for(path)
    (tmp_path / "no.png").write_bytes(b"\x89PNG not a picture")
    assert 'whose "no.png" cannot be read as a picture' in sentence_for(path)
    (tmp_path / "a.mtl").unlink()
    assert 'whose "a.mtl" is missing' in sentence_for(path)


def test_textures_of_too_many_pixels_are_refused_before_they_are_unpacked(tmp_path):
    path = textured(tmp_path, "large.png")
    for size in ((20_000, 6_000), (100_000, 100_000)):
        header = struct.pack(">IIBBBBB", *size, 8, 2, 0, 0, 0)
        chunk = b"IHDR" + header
        crc = struct.pack(">I", zlib.crc32(chunk))
        data = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + crc
        data += struct.pack(">I4sI", 0, b"IDAT", zlib.crc32(b"IDAT"))
        (tmp_path / "large.png").write_bytes(data)
        assert "100,000,000" in sentence_for(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_pipes_and_devices_are_refused(tmp_path):
    os.mkfifo(tmp_path / "pipe.ply")
    assert "which is no regular file" in sentence_for(tmp_path / "pipe.ply")
    (tmp_path / "zero.obj").symlink_to("/dev/zero")
    assert "which is no regular file" in sentence_for(tmp_path / "zero.obj")
    os.mkfifo(tmp_path / "pipe.png")
    assert 'whose "pipe.png" is no regular file' in sentence_for(textured(tmp_path, "pipe.png"))


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        (
            "a.ply",
            b"ply\nformat ascii 1.0\nelement vertex 9999999999\nend_header\n",
            "9,999,999,999 of vertex",
        ),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 3\nelement face 90000000\nend_header\n", "of face"),
        ("a.off", b"OFF\n# a note\n3 90000000 0\n", "90,000,000 faces"),
        ("a.zip", b"PK", "(the ending .zip), allowed .ply"),
        ("a", b"", "(no ending), allowed .ply"),
    ],
)
def test_counts_are_looked_at_before_anything_is_made(tmp_path, name, content, told):
    (tmp_path / name).write_bytes(content)
    assert told in sentence_for(tmp_path / name)


def gltf(folder, change):
    """A file of the bowl in glTF, its document changed."""
    path = saved(bowl(3)[0], folder, "glb")
    document, binary = it.read_gltf(path, ".glb")
    change(document)
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    parts = (
        struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(binary), 0x4E4942) + binary
    )
    path.write_bytes(struct.pack("<4sII", b"glTF", 2, 12 + len(parts)) + parts)
    return path


def many_nodes(document):
    document["nodes"] += [{"mesh": 0}] * 20_000


def many_instances(document):
    document["accessors"][0]["count"] = 3 * 1_000_000
    document["nodes"] += [{"mesh": 0}] * 9


def endless_accessor(document):
    document["accessors"].append({"componentType": 5126, "count": 10**12, "type": "VEC3"})


def shared_children(document):
    document["nodes"] += [{"children": [0]}, {"children": [0]}]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (many_nodes, "nodes, allowed at most 10,000"),
        (many_instances, "triangles, allowed at most 8,000,000"),
        (endless_accessor, "numbers in one accessor"),
        (shared_children, "a node stands inside two others"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_gltf_that_would_grow_is_refused(tmp_path, change, told):
    assert told in sentence_for(gltf(tmp_path, change))


def test_archives_that_would_grow_are_refused(tmp_path, monkeypatch):
    with zipfile.ZipFile(tmp_path / "a.3mf", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", bytes(20_000_000))
    monkeypatch.setattr(it, "MOST_BYTES", 10_000_000)
    assert "bytes when unpacked, allowed at most 10,000,000" in sentence_for(tmp_path / "a.3mf")
    monkeypatch.setattr(it, "MOST_BYTES", 1000)
    (tmp_path / "a.obj").write_text("v 0 0 0\n" * 1000)
    assert "bytes, allowed at most 1,000" in sentence_for(tmp_path / "a.obj")


def test_a_library_s_advice_does_not_reach_the_user(tmp_path, monkeypatch):
    saved(bowl(3)[0], tmp_path, "ply")

    def lacking(*arguments, **options):
        raise ImportError("pip install this[easy] and that")

    monkeypatch.setattr(trimesh, "load_scene", lacking)
    told = sentence_for(tmp_path / "mesh.ply")
    assert "(reading a .ply file takes a package more, which is not installed)" in told
    assert "None" not in told
    assert "pip" not in told


def test_a_texture_is_read_at_the_size_that_is_needed(tmp_path):
    random = np.random.default_rng(4)
    codes = random.integers(0, 256, (64, 48, 3), dtype=np.uint8)
    picture = Image.fromarray(codes)
    linear = linear_from_bytes(codes)
    np.testing.assert_allclose(averaged(picture, 1), linear, atol=1e-7)
    blocks = linear.reshape(16, 4, 12, 4, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(averaged(picture, 4), blocks, atol=1e-6)
    assert averaged(picture, 10).shape == (7, 5, 3)
    assert averaged(picture, 10).mean() == pytest.approx(linear.mean(), rel=0.02)
    mesh, uv = bowl(5)
    mesh.visual = TextureVisuals(uv=uv, image=Image.new("RGB", (3000, 3000), (90, 90, 90)))
    path = saved(mesh, tmp_path, "obj")
    petal_of(path)
    tracemalloc.start()
    petal = petal_of(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 100_000_000  # whole and linear it would be 216 MB
    np.testing.assert_allclose(petal.reflectance, linear_from_bytes(np.array(90)), atol=1e-5)


def test_deep_nesting_and_short_memory(tmp_path, monkeypatch):
    (tmp_path / "a.gltf").write_text("[" * 100_000)
    assert "which does not load (it is nested too deeply)" in sentence_for(tmp_path / "a.gltf")

    def short(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr(trimesh, "load_scene", short)
    with pytest.raises(MemoryError):
        petal_of(saved(bowl(3)[0], tmp_path, "ply"))


PEAK = """
import sys, tracemalloc
from pathlib import Path
from lightsim.scene.petal import mesh_file
from lightsim.scene.records import Petal

mesh_file.BLOCK = 5_000
petal = Petal(form="mesh", file=Path(sys.argv[1]), scale=10.0)
mesh_file.petal_from_file(petal)
tracemalloc.start()
made = mesh_file.petal_from_file(petal)
print(tracemalloc.get_traced_memory()[1], len(made.faces))
"""


def test_a_mesh_takes_little_memory_for_each_triangle(tmp_path):
    # 5 million triangles were read within 0.84 GB, the libraries' 0.11 GB in it: 146 bytes each. In a process
    # of its own, where nothing else takes memory meanwhile.
    path = saved(bowl(300)[0], tmp_path, "ply")
    found = subprocess.run([sys.executable, "-c", PEAK, path], capture_output=True, text=True, check=True)
    peak, faces = map(int, found.stdout.split())
    assert peak < 190 * faces
