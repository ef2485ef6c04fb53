"""The files that a scene is read from: no output may take the place of one."""

from __future__ import annotations

from pathlib import Path

from lightsim.scene.build import build
from lightsim.scene.records import Scene


def files_read(scene: Scene) -> tuple[Path, ...]:
    """The scene's file, its mesh's, and the materials and textures that the mesh names.

    SceneError for a scene that cannot be built.
    """
    own = () if scene.path is None else (scene.path,)
    if scene.petal.file is None:
        return own
    from lightsim.scene.petal.mesh_source import files_of_mesh

    build(scene)
    return (*own, *files_of_mesh(scene.petal.file))
