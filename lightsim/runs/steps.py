"""The steps of a photograph one by one, as Python's front door offers them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lightsim.measures import FrameMeasures, measure_frame
from lightsim.photograph.mix import petal_colours
from lightsim.picture import Layers, Photograph
from lightsim.runs.limits import require_memory, samples_of
from lightsim.runs.photographing import measured_light, measures_of, photograph
from lightsim.scene.build import build
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene


def trace(
    scene: Scene | str | Path,
    *,
    quality: str = "normal",
    width_px: int | None = None,
    samples: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Layers:
    """Trace a scene: one linear layer of light for each lamp and one for the room.

    Parameters
    ----------
    scene : a scene or its file.
    quality : "draft", "normal" or "final"; samples, a number for each pixel, takes its place.
    width_px : of the picture; the scene's when None.
    progress : called with the share done, 0..1.

    Raises
    ------
    SceneError for a scene that cannot be built; PictureError for a picture too large for memory.

    Examples
    --------
    >>> layers = trace(Scene(), quality="draft", width_px=48)
    >>> list(layers.by_light), layers.shape
    (['flash', 'ambient'], (32, 48))
    """
    from lightsim.tracer import trace_layers

    scene = as_scene(scene)
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
    """Expose a scene's layers at the scene's settings, which is arithmetic: nothing is traced.

    Parameters
    ----------
    layers : what `trace` gave.
    scene : the traced scene, or one that differs in exposure and in the lights' output and colour.
    light : the light whose highlights are to be known; the key when None.
    gain_stops : brightens the whole, as a higher ISO speed would.
    auto : takes the place of the scene's exposure.auto.

    Returns
    -------
    Photograph, its `linear` (h, w, 3) float32.

    Examples
    --------
    One stop more of everything is twice the light:

    >>> layers = trace(Scene(), quality="draft", width_px=48)
    >>> photo, brighter = expose(layers, Scene()), expose(layers, Scene(), gain_stops=1.0)
    >>> round(float(brighter.linear.mean() / photo.linear.mean()), 3)
    2.0
    """
    return photograph(layers, scene, build(scene), light=light, gain_stops=gain_stops, auto=auto)


def measure(
    photo: Photograph,
    layers: Layers | None = None,
    scene: Scene | None = None,
    *,
    reference_drop: int | None = None,
) -> FrameMeasures:
    """Measure a photograph: contrast, highlights, caustics and shadows.

    Parameters
    ----------
    photo : what `expose` gave.
    layers, scene : what it was made of; with both the lighting ratio is measured too, which is a property of
        the set and not of the picture.
    reference_drop : number of the drop to show enlarged; chosen when None.

    Returns
    -------
    FrameMeasures; a number that cannot be had is None, and `missing` says why.

    Examples
    --------
    >>> layers = trace(Scene(), quality="draft", width_px=48)
    >>> found = measure(expose(layers, Scene()))
    >>> found.petal_contrast_stops > 1.0, found.drops_measured
    (True, 0)
    >>> found.missing["texture_fine_rms"]
    'detail of 0.25 mm is less than 3 pixels'
    """
    if layers is not None and scene is not None:
        return measures_of(photo, layers, scene, build(scene), reference_drop)
    return measure_frame(photo, **measured_light(photo), reference_drop=reference_drop)


DRAFT_WIDTH_PX = 160


def draft_petal_colours(scene: Scene) -> dict[str, NDArray[np.float64]]:
    """For each light and the room the mean colour (3,) of the bare petal, cd/m2 per unit of its output;
    `planning` is handed this function and traces nothing."""
    return petal_colours(trace(scene, quality="draft", width_px=DRAFT_WIDTH_PX))
