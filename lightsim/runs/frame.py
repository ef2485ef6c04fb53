"""One frame of a sweep or a comparison, and what is kept of it from one run to the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.measures import DropMeasures, FrameMeasures, choose_reference
from lightsim.photograph.tone import png_bytes, to_srgb8
from lightsim.picture import Layers, Photograph
from lightsim.report.files.formats import plain_value
from lightsim.report.frames import ReferenceDrop, defocused_drop, reference_drop
from lightsim.runs.photographing import measures_of, photograph
from lightsim.scene.obstruction import hidden_share, unbuildable_words
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.change_light import light_named, placed_by_angle
from lightsim.scene.stage import Stage

KEPT_NOTES = (
    "auto_stops",
    "gain_stops",
    "room_light_share",
    "room_light_stops_below_flash",
    "clipped_share",
    "ghost_px",
    "ghost_mm",
    "flash_smear_px",
)
AS_THEY_ARE = ("settings", "mm_per_px", "notes", "not_buildable", "hidden_share")  # in JSON
CHANNELS = ("red", "green", "blue")


@dataclass(frozen=True)
class Frame:
    """A exposed, measured picture and where its light stood.

    Attributes
    ----------
    image : (h, w, 3) uint8, sRGB.
    measures : FrameMeasures
    light : the light that is moved (the key otherwise), placed by angle, clock position and distance;
        None for a scene without lights.
    values : of the quantities that a sweep varies; none in a comparison.
    settings : the camera's settings and the light's power, units in the keys.
    drop : where the reference drop is seen, None when there is none.
    second_drop : the same of a drop away from the focus.
    mm_per_px : float, size of one pixel at the plane of sharp focus.
    notes : what was set and found, numbers only ("auto_stops", "clipped_share", ...).
    not_buildable : why the set cannot be built, one sentence; None where it can.
    hidden_share : share of the light's straight lines to the field that solid things cut; None without one.
    photograph : the linear picture, kept only when asked for.
    """

    image: NDArray[np.uint8]
    measures: FrameMeasures
    light: Light | None
    values: tuple[float, ...] = ()
    settings: Mapping[str, float] = field(default_factory=dict)
    drop: ReferenceDrop | None = None
    second_drop: ReferenceDrop | None = None
    mm_per_px: float = 1.0
    notes: Mapping[str, float] = field(default_factory=dict)
    not_buildable: str | None = None
    hidden_share: float | None = None
    photograph: Photograph | None = None

    @property
    def value(self) -> float | None:
        """Of the first quantity that a sweep varies; None in a comparison."""
        return self.values[0] if self.values else None

    @property
    def exposure_stops(self) -> float:
        """Stops by which the exposure lies from the scene's settings."""
        return self.notes.get("auto_stops", 0.0) + self.notes.get("gain_stops", 0.0)

    def _repr_png_(self) -> bytes:
        return png_bytes(self.image)


def make_frame(
    layers: Layers,
    scene: Scene,
    stage: Stage,
    *,
    light: str | None = None,
    values: tuple[float, ...] = (),
    gain_stops: float = 0.0,
    auto: bool | None = None,
    with_photograph: bool = False,
) -> Frame:
    """Develop, measure and show one set of layers; parameters as for `take.photograph`."""
    photo = photograph(layers, scene, stage, light=light, gain_stops=gain_stops, auto=auto)
    drops, drop_index = layers.maps.drops, layers.maps.drop_index
    index = choose_reference(drops, drop_index.shape, drop_index=drop_index)
    moved = placed_by_angle(light_named(scene, light)) if scene.lights else None
    staged = None if moved is None else next(one for one in stage.lights if one.name == moved.name)
    return Frame(
        image=to_srgb8(photo),
        measures=measures_of(photo, layers, scene, stage, index),
        light=moved,
        values=values,
        settings=settings_numbers(scene, stage, moved),
        drop=reference_drop(drops, index),
        second_drop=defocused_drop(drops, drop_index.shape, index),
        mm_per_px=layers.mm_per_px,
        notes=number_notes(photo),
        not_buildable="; ".join(unbuildable_words(scene, stage)) or None,
        hidden_share=None if staged is None else hidden_share(stage, staged),
        photograph=photo if with_photograph else None,
    )


def settings_numbers(scene: Scene, stage: Stage, light: Light | None) -> dict[str, float]:
    """The camera's settings and the light's power, in numbers."""
    camera = stage.camera
    found = {
        "f_number": scene.camera.f_number,
        "effective_f_number": camera.effective_f_number,
        "magnification": camera.magnification,
        "iso": scene.exposure.iso,
        "shutter_s": scene.exposure.shutter_s,
    }
    if scene.lens is not None:
        found["extension_mm"] = float(sum(scene.lens.extension_tubes_mm))
    if light is not None and light.kind == "flash":
        found["light_power"] = light.power
    return found


def number_notes(photo: Photograph) -> dict[str, float]:
    """The finite numbers among a photograph's notes that are kept and shown."""
    found = {name: photo.notes.get(name) for name in KEPT_NOTES}
    clipped = photo.notes.get("clipped_share_rgb")
    if isinstance(clipped, tuple):
        found |= {f"clipped_share_{name}": share for name, share in zip(CHANNELS, clipped, strict=True)}
    return {
        name: float(value)
        for name, value in found.items()
        if isinstance(value, int | float) and isfinite(value)
    }


def frame_to_dict(frame: Frame) -> dict[str, Any]:
    """All of a frame but its picture, as plain values that JSON can hold."""
    kept = (*AS_THEY_ARE, "values", "measures", "drop", "second_drop")
    return {name: plain_value(getattr(frame, name)) for name in kept}


def frame_from_dict(plain: Mapping[str, Any], image: NDArray[np.uint8], light: Light | None) -> Frame:
    """The frame that `frame_to_dict` wrote, with its picture. KeyError or TypeError when it is not one."""
    return Frame(
        image=image,
        measures=measures_from_dict(plain["measures"]),
        light=light,
        values=tuple(plain["values"]),
        drop=_drop(plain["drop"]),
        second_drop=_drop(plain["second_drop"]),
        **{name: plain[name] for name in AS_THEY_ARE},
    )


def _drop(plain: Mapping[str, Any] | None) -> ReferenceDrop | None:
    return None if plain is None else ReferenceDrop(tuple(plain["centre_px"]), plain["radius_px"])


def measures_from_dict(plain: Mapping[str, Any]) -> FrameMeasures:
    """FrameMeasures from its plain form."""
    drops = tuple(DropMeasures(**{**drop, "centre_px": tuple(drop["centre_px"])}) for drop in plain["drops"])
    return FrameMeasures(**{**plain, "drops": drops})
