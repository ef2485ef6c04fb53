"""The steps of a photograph one by one, as Python's front door offers them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from lightsim.measures import FrameMeasures, measure_frame
from lightsim.picture import Layers, Photograph
from lightsim.runs.limits import require_memory
from lightsim.runs.photographing import measured_light, measures_of, photograph
from lightsim.runs.quality import samples_of
from lightsim.scene.build import build
from lightsim.scene.file.check import check_scene
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Scene


def trace(
    scene: Scene | str | Path,
    *,
    quality: str = "normal",
    width_px: int | None = None,
    samples: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Layers:
    """One linear layer of light for each lamp of a scene.

    Parameters
    ----------
    scene : a scene or its file.
    quality : "draft", "normal" or "final"; samples, a number for each pixel, takes its place.
    width_px : of the picture; the scene's when None.
    progress : called with the share done, 0..1.

    Raises
    ------
    SceneError for a scene that cannot be built; PictureError for a picture too large for memory.
    """
    from lightsim.tracer import trace_layers

    scene = scene if isinstance(scene, Scene) else load_scene(scene)
    check_scene(scene)
    samples = samples_of(quality) if samples is None else samples
    require_memory(scene, width_px, samples)
    return trace_layers(scene, width_px=width_px, samples=samples, progress=progress)


def expose(
    layers: Layers,
    scene: Scene,
    *,
    light: str | None = None,
    gain_stops: float = 0.0,
    auto: bool | None = None,
) -> Photograph:
    """The photograph of a scene's layers at the scene's settings.

    The scene may differ from the traced one in exposure and in the lights' output and colour.

    Parameters
    ----------
    layers : what `trace` gave.
    light : the light whose highlights are to be known; the key when None.
    gain_stops : brightens the whole, as a higher ISO speed would.
    auto : takes the place of the scene's exposure.auto.
    """
    return photograph(layers, scene, build(scene), light=light, gain_stops=gain_stops, auto=auto)


def measure(
    photo: Photograph,
    layers: Layers | None = None,
    scene: Scene | None = None,
    *,
    reference_drop: int | None = None,
) -> FrameMeasures:
    """Contrast, highlights, gathered light and shadows of a photograph.

    Given its layers and scene too, the lighting ratio is among them: it is of the set, not of the picture.
    """
    if layers is not None and scene is not None:
        return measures_of(photo, layers, scene, build(scene), reference_drop)
    return measure_frame(photo, **measured_light(photo), reference_drop=reference_drop)
