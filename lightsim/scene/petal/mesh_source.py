"""The door through which mesh files come in: what is too large, no file, or elsewhere stays outside.

A mesh file may name others (materials, textures, buffers). They are read from its own folder and the folders
below, and nowhere else. Counts are looked at before anything is made of them.
"""

from __future__ import annotations

import base64
import json
import re
import stat
import struct
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

from trimesh.resolvers import Resolver

from lightsim.errors import SceneError, named
from lightsim.scene.file.messages import shown

KINDS = (".ply", ".obj", ".stl", ".off", ".glb", ".gltf", ".3mf", ".dae")
KNOWN = "a mesh file (PLY, OBJ, STL, GLB ...)"
MOST_FACES = 8_000_000
MOST_VERTICES = 3 * MOST_FACES
MOST_INSTANCES = 10_000
MOST_BYTES = 1_000_000_000  # of a mesh file and all that it names, on the disk and unpacked
MOST_TEXTURE_PIXELS = 100_000_000
PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".bmp", ".tif", ".tiff", ".tga", ".gif")


class Refused(SceneError):
    """A mesh file, or what it names, that is not let in."""


class FilesBeside(Resolver):
    """What a mesh file refers to, for trimesh.

    read : the files that were read.  lacking : a sentence's end for each that could not be.
    """

    def __init__(self, folder: Path, bytes_left: int):
        self.folder = folder.resolve()
        self.read: list[Path] = []
        self.lacking: list[str] = []
        self._left = bytes_left

    def get(self, key: str) -> bytes:
        """The bytes of a file; FileNotFoundError where it is not let in; `lacking` then names it."""
        name = key.strip()
        path = self._found(name)
        if isinstance(path, str):
            return self._refuse(name, path)
        size = path.stat().st_size
        if size > self._left:
            return self._refuse(name, f"makes more than {MOST_BYTES:,} bytes together with the rest")
        self._left -= size
        data = path.read_bytes()
        wrong = picture_wrong(data) if path.suffix.lower() in PICTURES else ""
        if wrong:
            return self._refuse(name, wrong)
        self.read.append(path)
        return data

    def _found(self, name: str) -> Path | str:
        """The file, or what is wrong with it."""
        if "\0" in name or not name:
            return "is no name of a file"
        path = (self.folder / name.replace("\\", "/")).resolve()
        if not path.is_relative_to(self.folder):
            return "lies outside of its folder"
        try:
            kind = path.stat().st_mode
        except OSError:
            return "is missing"
        return path if stat.S_ISREG(kind) else "is no regular file"

    def _refuse(self, name: str, wrong: str) -> bytes:
        words = f'whose "{named(name)}" {wrong}'
        if words not in self.lacking:
            self.lacking.append(words)
        raise FileNotFoundError(name)

    def write(self, name: str, data: Any) -> None:
        """Nothing is written."""
        raise NotImplementedError

    def namespaced(self, namespace: str) -> FilesBeside:
        """Files of a folder inside."""
        inner = FilesBeside(self.folder, self._left)
        inner.folder, inner.read, inner.lacking = (self.folder / namespace).resolve(), self.read, self.lacking
        return inner

    def keys(self) -> list[str]:
        """No listing is given."""
        return []


def picture_wrong(data: bytes) -> str:
    """What is wrong with a texture's file, "" for nothing; the picture itself is not unpacked."""
    import warnings

    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(data)) as picture:
                width, height = picture.size
    except Image.DecompressionBombError:
        return f"has more than {MOST_TEXTURE_PIXELS:,} pixels, the most of a texture"
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        return "cannot be read as a picture"
    if width * height > MOST_TEXTURE_PIXELS:
        return f"has {width * height:,} pixels, more than the {MOST_TEXTURE_PIXELS:,} of a texture"
    return ""


_read_by: dict[Path, tuple[Path, ...]] = {}


def files_of_mesh(file: Path) -> tuple[Path, ...]:
    """The mesh file and what was read beside it when it was loaded last."""
    return (file, *_read_by.get(file, ()))


def loaded_mesh(file: Path, allow_lacking: bool = False) -> Any:
    """The scene that trimesh makes of a mesh file.

    allow_lacking : do without materials and textures that are not to be had. Refused, in one sentence, for
    all that is not let in; any exception for contents that do not load.
    """
    import trimesh

    _require_regular(file)
    _require_counts(file)
    beside = FilesBeside(file.parent, MOST_BYTES - file.stat().st_size)
    with file.open("rb") as opened:
        kind = file.suffix.lower().removeprefix(".")
        try:
            loaded = trimesh.load_scene(opened, file_type=kind, resolver=beside, process=False)
        except (FileNotFoundError, AttributeError):
            if beside.lacking:
                raise _refused(file, beside.lacking[0]) from None
            raise
    if beside.lacking and not allow_lacking:
        without = "all that it names beside it, or petal.reflectance to go without"
        raise Refused(f"petal.file: found {shown(file)}, {beside.lacking[0]}, allowed a file with {without}")
    _require_few_faces(file, loaded)
    _read_by[file] = tuple(beside.read)
    return loaded


def _refused(file: Path, words: str, allowed: str = KNOWN) -> Refused:
    return Refused(f"petal.file: found {shown(file)}, {words}, allowed {allowed}")


def _require_regular(file: Path) -> None:
    try:
        found = file.stat()
    except OSError:
        raise _refused(file, "and no such file") from None
    if stat.S_ISDIR(found.st_mode):
        raise _refused(file, "a folder")
    if not stat.S_ISREG(found.st_mode):
        raise _refused(file, "which is no regular file")
    if file.suffix.lower() not in KINDS:
        ending = f"the ending {named(file.suffix)}" if file.suffix else "no ending"
        raise _refused(file, f"which does not load ({ending})", f"{', '.join(KINDS)}")
    if found.st_size > MOST_BYTES:
        raise _refused(file, f"which has {found.st_size:,} bytes", f"at most {MOST_BYTES:,}")


def _require_few_faces(file: Path, loaded: Any) -> None:
    """Of all instances together, before they are made."""
    nodes = loaded.graph.nodes_geometry
    _limit(file, len(nodes), MOST_INSTANCES, "geometries")
    counts = {name: len(getattr(one, "faces", ())) for name, one in loaded.geometry.items()}
    _limit(file, sum(counts[loaded.graph[node][1]] for node in nodes), MOST_FACES, "triangles")


def _limit(file: Path, found: int, most: int, what: str) -> None:
    if found > most:
        raise _refused(file, f"which has {found:,} {what}", f"at most {most:,}")


def _require_counts(file: Path) -> None:
    """What the file itself says of its counts."""
    kind = file.suffix.lower()
    if kind == ".ply":
        with file.open("rb") as opened:
            header = opened.read(100_000).partition(b"end_header")[0].decode("latin-1")
        for element, count in re.findall(r"element\s+(\w+)\s+(\d{1,18})", header):
            _limit(file, int(count), MOST_FACES if element == "face" else MOST_VERTICES, f"of {element}")
    elif kind == ".off":
        with file.open("rb") as opened:
            numbers = re.findall(rb"\d{1,18}", re.sub(rb"#[^\n]*", b"", opened.read(10_000)))[:2]
        for count, most, what in zip(map(int, numbers), (MOST_VERTICES, MOST_FACES), _OFF, strict=False):
            _limit(file, count, most, what)
    elif kind == ".stl":
        _limit(file, file.stat().st_size // 50, MOST_FACES + 1000, "triangles")
    elif kind == ".3mf" and zipfile.is_zipfile(file):
        with zipfile.ZipFile(file) as archive:
            unpacked = sum(one.file_size for one in archive.infolist())
        _limit(file, unpacked, MOST_BYTES, "bytes when unpacked")
    elif kind in (".gltf", ".glb"):
        _require_counts_of_gltf(file, kind)


_OFF = ("vertices", "faces")


def _require_counts_of_gltf(file: Path, kind: str) -> None:
    """Accessors, instances, triangles and textures of a glTF file (glTF 2.0, sections 3 and 4)."""
    document, binary = read_gltf(file, kind)
    counts = [int(one.get("count", 0)) for one in document.get("accessors", [])]
    _limit(file, max(counts, default=0), MOST_VERTICES, "numbers in one accessor")
    _limit(file, len(document.get("nodes", [])), MOST_INSTANCES, "nodes")
    inner = [child for node in document.get("nodes", []) for child in node.get("children", [])]
    if len(inner) != len(set(inner)):
        raise _refused(file, "in which a node stands inside two others")
    meshes = [
        sum(counts[one.get("indices", one["attributes"]["POSITION"])] // 3 for one in mesh["primitives"])
        for mesh in document.get("meshes", [])
    ]
    shown_meshes = [node["mesh"] for node in document.get("nodes", []) if "mesh" in node]
    _limit(file, sum(meshes), MOST_FACES, "triangles")
    _limit(file, sum(meshes[number] for number in shown_meshes), MOST_FACES, "triangles")
    for number, image in enumerate(document.get("images", [])):
        data = _embedded(image, document, binary)
        wrong = "" if data is None else picture_wrong(data)
        if wrong:
            raise _refused(file, f"whose texture {number} {wrong}")


def read_gltf(file: Path, kind: str) -> tuple[dict[str, Any], bytes]:
    """Read a glTF file: its JSON document and its binary chunk, empty where there is none (glTF 2.0, 4.4)."""
    data = file.read_bytes()
    if kind == ".gltf":
        return json.loads(data), b""
    _magic, _version, _length, size, _kind = struct.unpack_from("<4sIIII", data)
    return json.loads(data[20 : 20 + size]), data[28 + size :]


def _embedded(image: dict[str, Any], document: dict[str, Any], binary: bytes) -> bytes | None:
    """A texture inside the file, None where it is a file of its own."""
    uri = image.get("uri")
    if isinstance(uri, str):
        return base64.b64decode(uri.partition(",")[2]) if uri.startswith("data:") else None
    view = document["bufferViews"][image["bufferView"]]
    if view.get("buffer", 0) != 0 or "uri" in document["buffers"][0]:
        return None
    start = view.get("byteOffset", 0)
    return binary[start : start + view["byteLength"]]
