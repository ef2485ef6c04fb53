"""What the layers of a picture depend on: all that has to be the same for a traced layer to be good again."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from lightsim.scene.stage import Body, Stage, StagedLight

AMBIENT = "ambient"
OF_THE_LIGHTS = ("lights", "bodies", "ambient_illuminance_lx", "ambient_colour_temperature_k")


def view_key(stage: Stage, width_px: int, samples: int, seed: int = 0) -> dict[str, object]:
    """What the camera's paths and maps depend on beside the petal's mesh: drops, camera, cards and whatever
    else stands there, the picture's size, the samples; neither the lights nor how bright the room is."""
    set_up = {
        item.name: getattr(stage, item.name)
        for item in fields(stage)
        if item.name not in OF_THE_LIGHTS and item.name != "petal"
    }
    return {**set_up, "width_px": width_px, "samples": samples, "seed": seed}


def light_key(stage: Stage, light: StagedLight | None) -> tuple[object, object]:
    """What a light's layer depends on beside the view: its place and shape, not its output or colour; where
    solid bodies stand.

    light : None is the ambient dome.
    """
    return face_key(light), tuple(_place_of(body) for body in stage.bodies)


def face_key(light: StagedLight | None) -> object:
    """The same without the solid bodies: the light's own place and shape."""
    if light is None:
        return AMBIENT
    face = light.face
    arrays = np.concatenate([face.centre, face.right, face.up, face.out])
    sizes = (face.half_width_mm, face.half_height_mm, face.hole_mm, face.round)
    return (light.kind, arrays.tobytes(), *sizes)


def _place_of(body: Body) -> tuple[object, ...]:
    arrays = np.concatenate([body.centre, body.right, body.up, body.out])
    return (arrays.tobytes(), body.half_width_mm, body.half_height_mm, body.half_depth_mm, body.round)
