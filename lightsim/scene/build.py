"""From a scene to a stage: everything in its place about the point of sharp focus.

The petals, drops and posed sets made last are kept: scenes that differ in their lights alone share the same
arrays (`stage.petal is other.petal`), which a sweep of a light rests on. Whole stages are kept too, those
about the petal asked for last.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from lightsim.errors import SceneError
from lightsim.optics.exposure_values import flash_intensity_cd_s, illuminance_of_ev100
from lightsim.scene.camera import camera_geometry, up_in_picture
from lightsim.scene.clash import clashes
from lightsim.scene.drops import place_drops
from lightsim.scene.faces import backdrop_face, card_face, light_face, position
from lightsim.scene.file.check import check_scene
from lightsim.scene.petal.pose import posed
from lightsim.scene.petal.shape import petal_sheet
from lightsim.scene.petal.surface import Surface
from lightsim.scene.records import Ambient, Drops, Focus, Light, Petal, Scene
from lightsim.scene.solid_bodies import bodies_of
from lightsim.scene.stage import DropSet, PetalMesh, Stage, StagedCard, StagedLight

ROOM_LIGHT_LX = 200.0  # a living room in the evening; common practice, no source
KEPT = 4  # petals, sets of drops and posed sets that are kept
KEPT_STAGES = 64  # stages about one petal

# A file's time of change and size, by which a kept mesh is known to be the file's still.
Stamp = tuple[int, int]


def build(scene: Scene) -> Stage:
    """Place everything of a scene in world coordinates: petal mesh, drops, lights, cards, solid bodies.

    Raises
    ------
    SceneError, with one sentence for each problem, when the scene breaks a rule, its mesh file cannot be
    read, no drop finds a place, or things stand in one another's way.

    Examples
    --------
    >>> stage = build(Scene())
    >>> len(stage.drops), stage.camera.magnification
    (60, 1.5)
    """
    scene = check_scene(scene)
    try:
        petal, drops = _posed(scene.petal, _stamp(scene.petal.file), scene.drops, scene.camera.focus)
        known = _stages.get(scene)
        if known is not None and known.petal is petal and known.drops is drops:
            return known
        stage = _staged(scene, petal, drops)
        problems = list(clashes(scene, stage))
    except SceneError as error:
        raise SceneError(error.problems, scene.path) from None
    if problems:
        raise SceneError(problems, scene.path)
    _keep(scene, stage)
    return stage


# What `build` made of the scenes about the petal that was asked for last: beside the petal a stage is small.
_stages: dict[Scene, Stage] = {}


def _keep(scene: Scene, stage: Stage) -> None:
    others = any(kept.petal is not stage.petal for kept in tuple(_stages.values()))
    if others or len(_stages) >= KEPT_STAGES:
        _stages.clear()
    _stages[scene] = stage


def _staged(scene: Scene, petal: PetalMesh, drops: DropSet) -> Stage:
    ambient, backdrop = scene.ambient, scene.backdrop
    camera = camera_geometry(scene.camera, scene.lens)
    return Stage(
        petal=petal,
        drops=drops,
        camera=camera,
        lights=tuple(map(_staged_light, scene.lights)),
        cards=tuple(StagedCard(card.name, card_face(card), card.reflectance) for card in scene.cards),
        up=up_in_picture(scene.camera.looks_down_deg),
        ambient_illuminance_lx=room_light_lx(ambient),
        ambient_gradient=ambient.gradient,
        ambient_colour_temperature_k=ambient.colour_temperature_k,
        backdrop=None if backdrop is None else backdrop_face(backdrop),
        backdrop_reflectance=np.array((0, 0, 0) if backdrop is None else backdrop.reflectance, np.float32),
        bodies=bodies_of(scene, camera),
    )


def _staged_light(light: Light) -> StagedLight:
    return StagedLight(
        light.name,
        light.kind,
        light_face(light),
        output(light),
        light.colour_temperature_k,
        light.flash_duration_s,
    )


def output(light: Light) -> float:
    """A light's output on its face's axis, far away: cd s for a flash, cd for a continuous light.

    From a guide number, C GN^2 power / S, less what a diffuser takes. From an illuminance, E d^2 with d the
    distance from the face's centre to the point of sharp focus, as if all the light came from there and the
    face looked at it; what a diffuser takes is counted in there already.
    """
    given = light.illuminance_lx
    if light.ev100 is not None:
        given = illuminance_of_ev100(light.ev100)
    if given is not None:
        return given * (1e-3 * float(np.linalg.norm(position(light)))) ** 2
    through = 1.0 if light.diffuser is None else 2.0**-light.diffuser.loss_stops
    if light.guide_number_m is not None:
        return flash_intensity_cd_s(light.guide_number_m, light.power) * through
    assert light.intensity is not None
    return light.intensity * light.power * through


def room_light_lx(ambient: Ambient) -> float:
    """The dome's illuminance, from lux or from an exposure value; ROOM_LIGHT_LX when neither is given."""
    if ambient.ev100 is not None:
        return illuminance_of_ev100(ambient.ev100)
    return ROOM_LIGHT_LX if ambient.illuminance_lx is None else ambient.illuminance_lx


def _stamp(file: Path | None) -> Stamp | None:
    try:
        found = None if file is None else file.stat()
    except OSError:
        return None
    return None if found is None else (found.st_mtime_ns, found.st_size)


@lru_cache(maxsize=KEPT)
def _surface(petal: Petal, stamp: Stamp | None) -> Surface:
    if petal.form != "mesh":
        return Surface(petal_sheet(petal))
    from lightsim.scene.petal.mesh_file import petal_from_file

    return Surface(petal_from_file(petal), seams=True)


@lru_cache(maxsize=KEPT)
def _drops(petal: Petal, stamp: Stamp | None, drops: Drops) -> DropSet:
    return place_drops(drops, _surface(petal, stamp))


def petal_and_drops(scene: Scene) -> tuple[PetalMesh, DropSet]:
    """The petal and drops in the petal's own frame, before turn and tilt. SceneError as for `build`."""
    level, stamp = _level(scene.petal), _stamp(scene.petal.file)
    return _surface(level, stamp).mesh, _drops(level, stamp, scene.drops)


def _level(petal: Petal) -> Petal:
    return replace(petal, tilt_deg=0.0, tilt_clock=12.0, turn_deg=0.0)


@lru_cache(maxsize=KEPT)
def _posed(petal: Petal, stamp: Stamp | None, drops: Drops, focus: Focus) -> tuple[PetalMesh, DropSet]:
    # Neither the mesh nor where drops fall on it depends on the pose, so these two are kept without it.
    level = _level(petal)
    return posed(_surface(level, stamp).mesh, _drops(level, stamp, drops), petal, focus)


def files_read(scene: Scene) -> tuple[Path, ...]:
    """The scene's file, its mesh's, and the materials and textures that the mesh names: no output may take
    the place of one.

    SceneError for a scene that cannot be built.
    """
    own = () if scene.path is None else (scene.path,)
    if scene.petal.file is None:
        return own
    from lightsim.scene.petal.mesh_source import files_of_mesh

    build(scene)
    return (*own, *files_of_mesh(scene.petal.file))
