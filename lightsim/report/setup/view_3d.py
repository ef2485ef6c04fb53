"""The set in three dimensions: a picture from a viewpoint that hides nothing, or a window to walk round it.

pyrender draws, through EGL where there is no screen.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import LightsimError
from lightsim.optics.colour import srgb_decode
from lightsim.report.setup.solid.part import Part
from lightsim.report.setup.solid.whole import Solids
from lightsim.report.setup.viewpoint import Viewpoint, best_viewpoint
from lightsim.report.theme import theme_for

NO_OPENGL = (
    "the 3-D view needs OpenGL through EGL, which is not here: install it (on Debian: libegl1 and "
    "libgl1-mesa-dri)"
)
NO_WINDOW = "--open: found no display to open a window on, allowed where there is a screen"
OVERSAMPLING = 2
PAPER = theme_for().paper


class NoOpenGL(LightsimError):
    """No OpenGL to draw with."""


@dataclass(frozen=True)
class View3D:
    """A picture of the set and where things are in it.

    picture : (h, w, 3) uint8.  viewpoint : it was seen from.  things : (h, w) int16, the thing that each
    pixel shows, as its place in `names`, or -1.  pieces : (h, w) int32, the part that each pixel shows, as
    its place in `parts`, or -1.
    """

    picture: NDArray[np.uint8]
    viewpoint: Viewpoint
    things: NDArray[np.int16]
    names: tuple[str, ...]
    pieces: NDArray[np.int32]
    parts: tuple[Part, ...]


def render(solids: Solids, width_px: int, height_px: int, paper: tuple[int, int, int] = PAPER) -> View3D:
    """Draw the set from the viewpoint from which least is hidden, without what is too far away.

    paper : colour of the ground behind it.

    Raises NoOpenGL, in one sentence, where there is no OpenGL.
    """
    parts = [part for part in solids.parts if part.thing not in solids.beyond]
    pyrender = _pyrender()
    try:
        return _rendered(pyrender, parts, solids, (width_px, height_px), paper)
    except (ImportError, AttributeError, OSError, RuntimeError, ValueError) as error:
        raise NoOpenGL(NO_OPENGL) from error
    except Exception as error:
        if type(error).__module__.split(".")[0] in ("OpenGL", "pyrender", "pyglet"):
            raise NoOpenGL(NO_OPENGL) from error
        raise


def _pyrender(platform: str | None = "egl") -> Any:
    """The library, set to draw without a screen; NoOpenGL where it cannot be had."""
    import warnings

    if platform is not None and sys.platform == "linux" and "OpenGL" not in sys.modules:
        os.environ["PYOPENGL_PLATFORM"] = platform
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import pyrender
    except (ImportError, AttributeError, OSError) as error:
        raise NoOpenGL(NO_OPENGL) from error
    return pyrender


def _mesh(pyrender: Any, part: Part) -> Any:
    """The part as a mesh that the library can draw."""

    class Bounded(pyrender.Mesh):
        """A mesh whose bounds do without a name that numpy 2 dropped (pyrender 0.1.45)."""

        @property
        def bounds(self) -> NDArray:
            corners = np.array([primitive.bounds for primitive in self.primitives])
            return np.array([corners[:, 0].min(axis=0), corners[:, 1].max(axis=0)])

    import trimesh

    colours = part.vertex_colours
    shape = trimesh.Trimesh(part.vertices, part.faces, process=False, vertex_colors=colours)
    if colours is not None:
        made = pyrender.Mesh.from_trimesh(shape, smooth=part.smooth)
    else:
        made = pyrender.Mesh.from_trimesh(shape, material=_material(pyrender, part), smooth=part.smooth)
    for primitive in made.primitives:
        primitive.material.doubleSided = True
    return Bounded(made.primitives, name=part.thing)


def _material(pyrender: Any, part: Part) -> Any:
    linear = srgb_decode(np.array(part.colour) / 255.0).tolist()
    shines = part.what == "face"
    return pyrender.MetallicRoughnessMaterial(
        baseColorFactor=[0.0, 0.0, 0.0, 1.0] if shines else [*linear, 1.0],
        metallicFactor=0.0,
        roughnessFactor=0.35 if part.what in ("drops", "glass") else 0.8,
        emissiveFactor=linear if shines else [0.0, 0.0, 0.0],
    )


def _scene(
    pyrender: Any, parts: Sequence[Part], up: NDArray, paper: tuple[int, int, int] = PAPER
) -> tuple[Any, dict[Any, Part]]:
    """The library's scene, lit from above on both sides, with the part of each of its nodes."""
    scene = pyrender.Scene(bg_color=[*(np.array(paper) / 255.0), 1.0], ambient_light=[0.30, 0.30, 0.30])
    nodes = {scene.add(_mesh(pyrender, part)): part for part in parts}
    for direction, strength in (
        (1.0 * up + np.array([0.55, 0.0, 0.0]), 2.6),
        (0.5 * up + np.array([-0.6, 0.0, 0.35]), 1.4),
        (0.3 * up + np.array([0.1, 0.0, 0.9]), 1.0),
    ):
        light = pyrender.DirectionalLight(color=[1.0, 1.0, 1.0], intensity=strength)
        scene.add(light, pose=_pose(np.zeros(3), np.asarray(direction, float), up))
    return scene, nodes


def _pose(eye: NDArray, backward: NDArray, up: NDArray) -> NDArray[np.float64]:
    """A pose (4, 4) that looks against `backward`."""
    back = backward / np.linalg.norm(backward)
    right = np.cross(up, back)
    length = np.linalg.norm(right)
    right = right / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])
    pose = np.eye(4)
    pose[:3, :3] = np.column_stack([right, np.cross(back, right), back])
    pose[:3, 3] = eye
    return pose


def _rendered(
    pyrender: Any, parts: list[Part], solids: Solids, size: tuple[int, int], paper: tuple[int, int, int]
) -> View3D:
    width, height = size
    scene, nodes = _scene(pyrender, parts, solids.up, paper)
    names = tuple(dict.fromkeys(part.thing for part in parts))
    small = _Drawer(pyrender, scene, nodes, names, 240, max(1, round(240 * height / width)))
    try:
        viewpoint = best_viewpoint(parts, solids.up, width / height, small.things)
    finally:
        small.close()
    large = _Drawer(pyrender, scene, nodes, names, OVERSAMPLING * width, OVERSAMPLING * height)
    try:
        picture = large.picture(viewpoint)
        pieces = large.pieces(viewpoint)
    finally:
        large.close()
    picture = _smaller(_outlined(picture, large.kinds[pieces]), width, height)
    pieces = pieces[::OVERSAMPLING, ::OVERSAMPLING]
    return View3D(picture, viewpoint, large.owners[pieces], names, pieces, tuple(nodes.values()))


def _kind(number: int, part: Part) -> int:
    """The number by which a part is outlined; drops and petal are taken as one."""
    return -2 if part.what in ("petal", "drops") else number


def _outlined(picture: NDArray, pieces: NDArray) -> NDArray[np.uint8]:
    """The picture with a fine dark line wherever one piece ends before another."""
    edge = np.zeros(pieces.shape, bool)
    edge[:, 1:] |= pieces[:, 1:] != pieces[:, :-1]
    edge[1:] |= pieces[1:] != pieces[:-1]
    lined = picture.copy()
    lined[edge] = (np.asarray(picture[edge], float) * 0.35).astype(np.uint8)
    return lined


def _smaller(picture: NDArray, width: int, height: int) -> NDArray[np.uint8]:
    from PIL import Image

    return np.asarray(Image.fromarray(picture).resize((width, height), Image.Resampling.BOX))


def _add_camera(pyrender: Any, scene: Any, viewpoint: Viewpoint, aspect: float) -> Any:
    """A camera at a viewpoint; returns its node."""
    near, far = 0.05 * viewpoint.distance_mm, 20.0 * viewpoint.distance_mm
    camera = pyrender.PerspectiveCamera(viewpoint.field_rad, near, far, aspectRatio=aspect)
    return scene.add(camera, pose=viewpoint.pose())


class _Drawer:
    """Draws a scene from viewpoints at one size."""

    def __init__(
        self,
        pyrender: Any,
        scene: Any,
        nodes: dict[Any, Part],
        names: tuple[str, ...],
        width: int,
        height: int,
    ):
        self.pyrender, self.scene, self.nodes, self.names = pyrender, scene, nodes, names
        self.renderer = pyrender.OffscreenRenderer(width, height)
        self.aspect = width / height
        self.kinds = np.array([*(_kind(number, part) for number, part in enumerate(nodes.values())), -1])
        owners = [names.index(part.thing) for part in nodes.values()]
        self.owners = np.array([*owners, -1], np.int16)  # the last piece is nothing

    def picture(self, viewpoint: Viewpoint) -> NDArray[np.uint8]:
        """The shaded picture."""
        node = _add_camera(self.pyrender, self.scene, viewpoint, self.aspect)
        picture, _ = self.renderer.render(self.scene)
        self.scene.remove_node(node)
        return np.asarray(picture)

    def pieces(self, viewpoint: Viewpoint) -> NDArray[np.int32]:
        """Which part each pixel shows, -1 for none."""
        node = _add_camera(self.pyrender, self.scene, viewpoint, self.aspect)
        marks = {each: (count % 255 + 1, count // 255, 0) for count, each in enumerate(self.nodes)}
        flags = self.pyrender.RenderFlags.SEG
        picture, _ = self.renderer.render(self.scene, flags=flags, seg_node_map=marks)
        self.scene.remove_node(node)
        shown = np.asarray(picture, np.int32)
        return np.asarray(np.where(shown[..., 0] == 0, -1, shown[..., 0] - 1 + 255 * shown[..., 1]), np.int32)

    def things(self, viewpoint: Viewpoint) -> NDArray[np.int16]:
        """Which thing each pixel shows, -1 for none."""
        return np.asarray(self.owners[self.pieces(viewpoint)])

    def close(self) -> None:
        """Give the memory back."""
        self.renderer.delete()


def open_window(solids: Solids, title: str) -> None:
    """Walk round the set in a window until it is closed.

    Raises LightsimError, in one sentence, where there is no display or no OpenGL.
    """
    if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
        raise LightsimError(NO_WINDOW)
    os.environ.pop("PYOPENGL_PLATFORM", None)
    pyrender = _pyrender(platform=None)
    scene, _ = _scene(pyrender, solids.parts, solids.up)
    viewpoint = best_viewpoint(solids.parts, solids.up, 1.5, None)
    _add_camera(pyrender, scene, viewpoint, 1.5)
    try:
        pyrender.Viewer(scene, viewport_size=(1200, 800), window_title=title, use_raymond_lighting=False)
    except Exception as error:
        raise LightsimError(f"{NO_WINDOW} and OpenGL ({error})") from error
