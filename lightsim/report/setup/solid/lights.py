"""Lights, cards and the backdrop as plain solids about the faces that the stage has of them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import srgb_encode
from lightsim.report.drawing.grey_card import RGB8
from lightsim.report.setup.solid.part import Part, box_at, disc_at, rod
from lightsim.scene.records import Light
from lightsim.scene.stage import Face

SHEET_MM = 1.5  # thickness of glowing faces, cards
LARGE_MM = 500.0  # a face as wide as this is drawn as a window or a wall of light, without a head

GLOW: RGB8 = (255, 200, 96)
_HOUSING: RGB8 = (92, 92, 96)
_FRAME: RGB8 = (150, 150, 154)


def light_parts(light: Light, face: Face) -> tuple[list[Part], NDArray[np.float64]]:
    """The parts of a light, and the point (3,) behind it where a stand takes hold."""
    if light.diffuser is not None:
        parts, back = _with_diffuser(light, face)
    elif max(face.half_width_mm, face.half_height_mm) * 2.0 >= LARGE_MM:
        parts, back = list(_pane(light.name, face)), 12.0
    else:
        parts, back = _head(light.name, light.kind, face)
    return [*parts, _glow(light.name, face)], face.centre - back * face.out


def _glow(name: str, face: Face) -> Part:
    """The glowing face itself, its front where the stage has it."""
    if face.round:
        return disc_at(name, "face", face, face.half_width_mm, -SHEET_MM, 0.0, GLOW)
    across, along = face.half_width_mm, face.half_height_mm
    return box_at(name, "face", face, (-across, -along, -SHEET_MM), (across, along, 0.0), GLOW)


def _head(name: str, kind: str, face: Face) -> tuple[list[Part], float]:
    """A housing close round the face; a flash has its grip below."""
    across, along = face.half_width_mm + 3.0, face.half_height_mm + 3.0
    depth = min(max(1.1 * min(across, along), 18.0), 80.0)
    if face.round:
        parts = [disc_at(name, "head", face, across, -depth, -0.5, _HOUSING)]
    else:
        parts = [box_at(name, "head", face, (-across, -along, -depth), (across, along, -0.5), _HOUSING)]
    if kind == "flash" and across < 90.0:
        half = min(max(0.8 * across, 18.0), 36.0)
        low, high = (-half, -along - 75.0, -depth), (half, -along - 1.0, -max(depth - 48.0, 2.0))
        parts.append(box_at(name, "grip", face, low, high, _HOUSING))
    return parts, depth


def _with_diffuser(light: Light, face: Face) -> tuple[list[Part], float]:
    """The head stands half the sheet's width behind it, which lights most of the sheet."""
    gap = min(max(max(face.half_width_mm, face.half_height_mm), 25.0), 250.0)
    head = Face(
        face.centre - gap * face.out,
        face.right,
        face.up,
        face.out,
        0.5 * light.width_mm,
        0.5 * (light.width_mm if light.shape == "round" else light.height_mm),
        light.shape == "round",
    )
    parts, depth = _head(light.name, light.kind, head)
    low, high = (-2.0, -2.0, -gap), (2.0, 2.0, -SHEET_MM)
    for side in (-1.0, 1.0):
        offset = np.array([side * 0.9 * min(head.half_width_mm, face.half_width_mm), 0.0, 0.0])
        parts.append(box_at(light.name, "strut", face, tuple(low + offset), tuple(high + offset), _FRAME))
    return parts, gap + depth


def _pane(name: str, face: Face) -> Iterator[Part]:
    """A frame round a large face, with a cross in it."""
    across, along, bar = face.half_width_mm, face.half_height_mm, 0.025 * face.half_width_mm
    edges = [
        ((-across - bar, -along - bar), (across + bar, -along)),
        ((-across - bar, along), (across + bar, along + bar)),
        ((-across - bar, -along), (-across, along)),
        ((across, -along), (across + bar, along)),
        ((-0.5 * bar, -along), (0.5 * bar, along)),
        ((-across, -0.5 * bar), (across, 0.5 * bar)),
    ]
    for low, high in edges:
        yield box_at(name, "frame", face, (*low, -12.0), (*high, 3.0), _FRAME)


def card_parts(name: str, face: Face, reflectance: float) -> tuple[list[Part], NDArray[np.float64]]:
    """A card as light or dark as it is, and where its stand takes hold."""
    grey = round(255.0 * float(srgb_encode(np.array(reflectance))))
    across, along = face.half_width_mm, face.half_height_mm
    sheet = box_at(name, "card", face, (-across, -along, -SHEET_MM), (across, along, 0.0), (grey, grey, grey))
    return [sheet], face.centre - (SHEET_MM + 2.0) * face.out


def backdrop_part(name: str, face: Face, colour: RGB8) -> Part:
    """The backdrop's board."""
    across, along = face.half_width_mm, face.half_height_mm
    return box_at(name, "board", face, (-across, -along, -3.0), (across, along, 0.0), colour)


def stand_parts(name: str, hold: NDArray, over: NDArray, ground: NDArray) -> list[Part]:
    """A stand: an arm from where it takes hold to the point over its foot, a post down to the ground."""
    parts = []
    if float(np.linalg.norm(over - hold)) > 1.0:
        parts.append(rod(name, "arm", hold, over, 2.5, _FRAME))
    if float(np.linalg.norm(over - ground)) > 1.0:
        parts.append(rod(name, "post", over, ground, 2.5, _FRAME))
    up = over - ground
    length = float(np.linalg.norm(up))
    if length > 4.0:
        parts.append(rod(name, "foot", ground, ground + 3.0 * up / length, 22.0, _FRAME))
    return parts
